"""Tests of bridge.page.views.start.trace_view, tracing and the view of engine starts: rows once and in order, words beside them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest

from bridge.page.renderer import Renderer
from bridge.page.views.start.trace_feed import TraceFeed
from bridge.page.views.start.trace_view import (
    MAX_CHOICES,
    select_trace,
    short_labels,
    trace_choices,
    trace_quantities,
)
from rules.packs.model import Pack
from tests.bridge.page.page_builders import HOSTILE, FlownDevice, RenderedHtml
from tests.bridge.page.test_app import client
from tests.bridge.page.trip_sheet_pack import SHEET, sheet_pack, start_engine

HOT = (20.0, 400.0, 760.0, 500.0)
GOOD = (20.0, 400.0, 560.0, 480.0)


@pytest.fixture(scope="module")
def sheeted(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack with strips."""
    return sheet_pack(tmp_path_factory.mktemp("packs") / "sheeted")


@pytest.fixture
def flying(sheeted: Pack) -> FlownDevice:
    """A rig of it."""
    return FlownDevice(sheeted, papers=SHEET)


@pytest.fixture
def trace(flying: FlownDevice) -> Callable[[], dict[str, Any]]:
    """Asks one client's tracer; {} where nothing is new."""
    tracer = TraceFeed(flying.device, Renderer().render)

    def ask() -> dict[str, Any]:
        events = tracer()
        assert [name for name, _ in events] in ([], ["trace"])
        found: Any = events[0][1] if events else {}
        return dict(found)

    return ask


def end_start(flown: FlownDevice, sim_s: float) -> None:
    """The starter lets go."""
    flown.frame(sim_s, {"engine.1.start_valve": "closed", "engine.1.n2": 60.0, "engine.1.egt": 480.0})


def shown(flown: FlownDevice, **query: str) -> RenderedHtml:
    """The view's part."""
    return RenderedHtml(Renderer().render_part("start", flown.device, query))


# -- what is sent -------------------------------------------------------------------------------------------------


def test_before_any_start_there_is_a_word_and_no_row(trace: Callable[[], dict[str, Any]]) -> None:
    """A client that comes first is told once that there is nothing yet, and then left alone."""
    first = trace()
    assert (first["key"], first["fresh"], first["rows"]) == ("", True, [])
    assert "No engine was started yet" in first["text"]
    assert trace() == {}


def test_each_row_is_sent_once_and_in_order(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """All rows so far at first, then only the new ones; together they are the strip."""
    now_s = start_engine(flying, [20.0, 100.0])
    rows = list(trace()["rows"])
    assert rows == [[0.0, 0.0, 20.0], [1.0, 10.0, 100.0]]
    assert trace() == {}
    for number in range(2, 6):
        flying.frame(
            now_s, {"engine.1.start_valve": "open", "engine.1.n2": 10.0 * number, "engine.1.egt": 300.0}
        )
        now_s += 1.0
        if number % 2:
            event = trace()
            assert event["fresh"] is False
            rows += event["rows"]
    whole = select_trace(flying.device, "")
    assert whole is not None
    assert rows == whole.rows()
    assert [row[0] for row in rows] == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]


def test_a_client_that_comes_late_gets_all_of_it(flying: FlownDevice) -> None:
    """Each client has rows of its own: one that connects in the middle is sent the whole strip."""
    start_engine(flying, GOOD)
    early, late = TraceFeed(flying.device, Renderer().render), TraceFeed(flying.device, Renderer().render)
    early()
    ((_, event),) = late()
    assert isinstance(event, dict)
    assert (event["fresh"], len(event["rows"])) == (True, len(GOOD))


def test_the_frame_of_the_drawing_comes_with_the_first_rows(
    flying: FlownDevice, trace: Callable[[], dict[str, Any]]
) -> None:
    """Columns with short labels, units and limits; words are not drawn; marks with their times."""
    start_engine(flying, GOOD)
    event = trace()
    assert event["columns"] == [
        {"label": "N2", "unit": "%", "limits": []},
        {"label": "EGT", "unit": "degC", "limits": [[740.0, "start EGT limit"]]},
    ]
    assert event["marks"] == [[1.0, "N2 rises"]]


def test_a_start_that_is_over_keeps_its_key_and_adds_its_last_row(
    flying: FlownDevice, trace: Callable[[], dict[str, Any]]
) -> None:
    """From running to kept nothing is drawn anew; the words change."""
    end_s = start_engine(flying, GOOD)
    before = trace()
    end_start(flying, end_s)
    after = trace()
    assert (after["key"], after["fresh"]) == (before["key"], False)
    assert after["rows"] == [[4.0, 60.0, 480.0]]
    assert "running" in before["text"]
    assert "over, begun at" in after["text"]
    assert trace() == {}


def test_the_next_start_is_drawn_anew(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """A client that asked for no strip goes over to the newest start, from its first row on."""
    end_start(flying, start_engine(flying, GOOD))
    first = trace()
    start_engine(flying, HOT, begins_s=60.0)
    second = trace()
    assert second["fresh"] is True
    assert second["key"] != first["key"]
    assert [row[0] for row in second["rows"]] == [0.0, 1.0, 2.0, 3.0]


def test_a_signal_without_a_value_is_a_gap(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """What is not valid is no number, and the card says so."""
    start_engine(flying, [20.0, 400.0])
    flying.frame(12.0, {"engine.1.start_valve": "open", "engine.1.n2": 20.0, "engine.1.egt": float("nan")})
    event = trace()
    assert event["rows"][-1] == [2.0, 20.0, None]
    assert "no data" in RenderedHtml(event["text"]).words


# -- which strip --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["nothing-1.00", HOSTILE, "x" * 5000])
def test_a_key_of_nothing_shows_the_newest(flying: FlownDevice, key: str) -> None:
    """An address of a strip that is not there is no error, and nothing of it becomes part of the page."""
    start_engine(flying, GOOD)
    seen = shown(flying, strip=key)
    assert "Start of engine 1" in seen.words
    assert {"script", "img"}.isdisjoint(tag for tag, _ in seen.tags)
    (ask,) = seen.attribute("data-stream")
    assert ask.startswith("trace=")
    assert not set(ask) & set("<>\"'& ")


def test_many_strips_are_listed_within_a_bound(flying: FlownDevice) -> None:
    """After many starts the newest can be chosen."""
    begins_s = 10.0
    for _ in range(MAX_CHOICES + 5):
        end_start(flying, start_engine(flying, GOOD, begins_s))
        begins_s += 30.0
    found = trace_choices(flying.device, "")
    assert len(found) == MAX_CHOICES
    assert found[0].began_s == begins_s - 30.0


# -- what stands beside -------------------------------------------------------------------------------------------


def test_the_numbers_stand_beside_the_drawing_as_text(flying: FlownDevice) -> None:
    """Present values with units, the highest and when, the limits by name and value, the moments, the clock."""
    start_engine(flying, HOT)
    words = shown(flying).words
    for said in (
        "30 %",
        "500 degC",
        "highest 760 degC at 0:02.0",
        "start EGT limit 740 degC",
        "N2 rises",
        "open",
    ):
        assert said in words
    assert "0:03.0" in words


def test_what_went_wrong_is_a_sentence_with_its_level(flying: FlownDevice) -> None:
    """A hot start is told with its name, its level in a word, and when it began and was over."""
    end_start(flying, start_engine(flying, [*HOT, 480.0, 480.0, 480.0]))
    seen = shown(flying)
    assert "Hot start" in seen.words
    assert "engine 1 EGT 760 degC, needs less than 740 degC" in seen.words
    assert "at 0:02.0, over at 0:03.0" in seen.words
    assert "warning" in seen.words
    assert "Nothing went wrong" not in seen.words


def test_a_good_start_says_that_nothing_went_wrong(flying: FlownDevice) -> None:
    """While it runs "so far", afterwards without."""
    end_s = start_engine(flying, GOOD)
    assert "Nothing is wrong so far." in shown(flying).words
    end_start(flying, end_s)
    assert "Nothing went wrong." in shown(flying).words


def test_what_was_found_before_a_start_is_not_of_it(flying: FlownDevice) -> None:
    """A second, good start does not show the first one's error."""
    end_start(flying, start_engine(flying, HOT))
    start_engine(flying, GOOD, begins_s=60.0)
    assert "Hot start" not in shown(flying).words


def test_drawings_are_left_alone_and_have_ids_of_their_own_strip(flying: FlownDevice) -> None:
    """A place for each drawn quantity, that no update touches, and that is another one for the next strip."""
    end_start(flying, start_engine(flying, GOOD))
    first = [a["id"] for _, a in shown(flying).tags if "data-plot" in a]
    start_engine(flying, GOOD, begins_s=60.0)
    second = [a for _, a in shown(flying).tags if "data-plot" in a]
    assert [a["data-plot"] for a in second] == ["0", "1"]
    assert all("data-keep" in a and a["aria-hidden"] == "true" for a in second)
    assert not set(first) & {a["id"] for a in second}


@pytest.mark.parametrize(
    ("labels", "short"),
    [
        (["engine 1 N1", "engine 1 EGT", "left duct pressure"], ["N1", "EGT", "left duct pressure"]),
        (["airspeed", "radio height"], ["airspeed", "radio height"]),
        (
            ["hydraulic 1 pressure", "control column", "elevator"],
            ["hydraulic 1 pressure", "control column", "elevator"],
        ),
        ([], []),
    ],
)
def test_labels_are_short_where_most_say_the_same(labels: list[str], short: list[str]) -> None:
    """The words that half of the labels begin with stand in the title already."""
    assert short_labels(labels) == short


def test_a_word_has_no_peak(flying: FlownDevice) -> None:
    """A lever is shown by its word and not drawn."""
    start_engine(flying, GOOD)
    strip = select_trace(flying.device, "")
    assert strip is not None
    lever = trace_quantities(strip)[-1]
    assert (lever.plot_index, lever.latest, lever.peak) == (-1, "open", "")


async def test_the_view_asks_for_its_rows(flying: FlownDevice) -> None:
    """The page of a strip asks the stream for that very strip, and without one for the newest."""
    start_engine(flying, GOOD)
    async with client([flying]) as one:
        assert 'data-stream="trace="' in (await one.get("/device/start")).text
        answer = await one.get("/device/start", params={"strip": "trace.start_1-10.00"})
        assert 'data-stream="trace=trace.start_1-10.00"' in answer.text
        assert answer.status_code == httpx.codes.OK
