"""Tests of bridge.page.views.start: rows of a trace once and in order, the card, and the selection."""

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
    """The pack with traces."""
    return sheet_pack(tmp_path_factory.mktemp("packs") / "sheeted")


@pytest.fixture
def flying(sheeted: Pack) -> FlownDevice:
    """A device with this pack."""
    return FlownDevice(sheeted, trip=SHEET)


@pytest.fixture
def trace(flying: FlownDevice) -> Callable[[], dict[str, Any]]:
    """Return the new event of one client's feed; {} if there is none."""
    feed = TraceFeed(flying.device, Renderer().render)

    def ask() -> dict[str, Any]:
        events = feed()
        assert [name for name, _ in events] in ([], ["trace"])
        found: Any = events[0][1] if events else {}
        return dict(found)

    return ask


def end_start(flown: FlownDevice, sim_s: float) -> None:
    """Close the start valve."""
    flown.frame(sim_s, {"engine.1.start_valve": "closed", "engine.1.n2": 60.0, "engine.1.egt": 480.0})


def shown(flown: FlownDevice, **query: str) -> RenderedHtml:
    """Render the view's part."""
    return RenderedHtml(Renderer().render_part("start", flown.device, query))


# -- the stream -------------------------------------------------------------------------------------------------


def test_before_any_start_there_is_a_message(trace: Callable[[], dict[str, Any]]) -> None:
    """The first client gets one message, and then no event."""
    first = trace()
    assert (first["key"], first["fresh"], first["rows"]) == ("", True, [])
    assert "No engine start yet" in first["text"]
    assert trace() == {}


def test_each_row_is_sent_once_and_in_order(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """The first event has all rows so far, later ones only new rows; together they are the trace."""
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
    trace_view = select_trace(flying.device, "")
    assert trace_view is not None
    assert rows == trace_view.rows()
    assert [row[0] for row in rows] == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]


def test_a_late_client_gets_all_rows(flying: FlownDevice) -> None:
    """A client that connects in the middle gets the whole trace."""
    start_engine(flying, GOOD)
    early, late = TraceFeed(flying.device, Renderer().render), TraceFeed(flying.device, Renderer().render)
    early()
    ((_, event),) = late()
    assert isinstance(event, dict)
    assert (event["fresh"], len(event["rows"])) == (True, len(GOOD))


def test_columns_and_limits_come_with_the_first_rows(
    flying: FlownDevice, trace: Callable[[], dict[str, Any]]
) -> None:
    """The first event has columns with labels, units and limits; columns of words are not plotted."""
    start_engine(flying, GOOD)
    event = trace()
    assert event["columns"] == [
        {"label": "N2", "unit": "%", "limits": []},
        {"label": "EGT", "unit": "degC", "limits": [[740.0, "start EGT limit"]]},
    ]
    assert event["marks"] == [[1.0, "N2 rises"]]


def test_an_ended_start_keeps_its_key(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """When a running trace ends, only its last row and its card are sent."""
    end_s = start_engine(flying, GOOD)
    before = trace()
    end_start(flying, end_s)
    after = trace()
    assert (after["key"], after["fresh"]) == (before["key"], False)
    assert after["rows"] == [[4.0, 60.0, 480.0]]
    assert "running" in before["text"]
    assert "ended, began at" in after["text"]
    assert trace() == {}


def test_the_next_start_replaces_the_plots(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """A client without a chosen trace gets the newest start from its first row."""
    end_start(flying, start_engine(flying, GOOD))
    first = trace()
    start_engine(flying, HOT, begins_s=60.0)
    second = trace()
    assert second["fresh"] is True
    assert second["key"] != first["key"]
    assert [row[0] for row in second["rows"]] == [0.0, 1.0, 2.0, 3.0]


def test_a_signal_without_a_value_is_a_gap(flying: FlownDevice, trace: Callable[[], dict[str, Any]]) -> None:
    """An invalid value is a gap in the plot, and the card shows it."""
    start_engine(flying, [20.0, 400.0])
    flying.frame(12.0, {"engine.1.start_valve": "open", "engine.1.n2": 20.0, "engine.1.egt": float("nan")})
    event = trace()
    assert event["rows"][-1] == [2.0, 20.0, None]
    assert "no data" in RenderedHtml(event["text"]).words


# -- the selection ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["nothing-1.00", HOSTILE, "x" * 5000])
def test_an_unknown_key_shows_the_newest_trace(flying: FlownDevice, key: str) -> None:
    """An unknown key is no error, and is escaped."""
    start_engine(flying, GOOD)
    seen = shown(flying, trace=key)
    assert "Start of engine 1" in seen.words
    assert {"script", "img"}.isdisjoint(tag for tag, _ in seen.tags)
    (query,) = seen.attribute("data-stream")
    assert query.startswith("trace=")
    assert not set(query) & set("<>\"'& ")


def test_the_list_of_traces_is_bounded(flying: FlownDevice) -> None:
    """After many starts only the newest can be chosen."""
    begins_s = 10.0
    for _ in range(MAX_CHOICES + 5):
        end_start(flying, start_engine(flying, GOOD, begins_s))
        begins_s += 30.0
    found = trace_choices(flying.device, "")
    assert len(found) == MAX_CHOICES
    assert found[0].began_s == begins_s - 30.0


# -- the card ---------------------------------------------------------------------------------------------------


def test_the_card_has_the_numbers_as_text(flying: FlownDevice) -> None:
    """The card shows latest values, peaks with times, limits, moments and the clock."""
    start_engine(flying, HOT)
    words = shown(flying).words
    for text in (
        "30 %",
        "500 degC",
        "highest 760 degC at 0:02.0",
        "start EGT limit 740 degC",
        "N2 rises",
        "open",
    ):
        assert text in words
    assert "0:03.0" in words


def test_a_finding_is_a_sentence_with_its_level(flying: FlownDevice) -> None:
    """A hot start is shown with its label, level, and the times of its beginning and end."""
    end_start(flying, start_engine(flying, [*HOT, 480.0, 480.0, 480.0]))
    seen = shown(flying)
    assert "Hot start" in seen.words
    assert "engine 1 EGT 760 degC, needs less than 740 degC" in seen.words
    assert "at 0:02.0, corrected at 0:03.0" in seen.words
    assert "warning" in seen.words
    assert "No findings" not in seen.words


def test_a_good_start_has_no_findings(flying: FlownDevice) -> None:
    """The message says "so far" while the trace runs."""
    end_s = start_engine(flying, GOOD)
    assert "No findings so far." in shown(flying).words
    end_start(flying, end_s)
    assert "No findings." in shown(flying).words


def test_findings_before_a_start_do_not_belong_to_it(flying: FlownDevice) -> None:
    """A second, good start does not show the finding of the first."""
    end_start(flying, start_engine(flying, HOT))
    start_engine(flying, GOOD, begins_s=60.0)
    assert "Hot start" not in shown(flying).words


def test_plots_are_not_updated_and_have_ids_of_their_trace(flying: FlownDevice) -> None:
    """Each plotted quantity has an element that updates leave alone, with another id for the next trace."""
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
def test_common_words_of_labels_are_removed(labels: list[str], short: list[str]) -> None:
    """The words that at least half of the labels begin with are removed."""
    assert short_labels(labels) == short


def test_a_word_has_no_peak(flying: FlownDevice) -> None:
    """A lever is shown by its word and has no plot."""
    start_engine(flying, GOOD)
    view = select_trace(flying.device, "")
    assert view is not None
    lever = trace_quantities(view)[-1]
    assert (lever.plot_index, lever.latest, lever.peak) == (-1, "open", "")


async def test_the_view_subscribes_to_its_trace(flying: FlownDevice) -> None:
    """The page subscribes to the trace of its address, or to the newest one."""
    start_engine(flying, GOOD)
    async with client([flying]) as one:
        assert 'data-stream="trace="' in (await one.get("/device/start")).text
        answer = await one.get("/device/start", params={"trace": "trace.start_1-10.00"})
        assert 'data-stream="trace=trace.start_1-10.00"' in answer.text
        assert answer.status_code == httpx.codes.OK
