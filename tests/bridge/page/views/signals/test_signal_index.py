"""Tests of bridge.page.views.signals.signal_index and its list: found by words, told with value, quality, age, origin and readers."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.mapping.load_map import load_map
from bridge.page.renderer import Renderer
from bridge.page.views.signals.signal_index import MAX_QUERY_LENGTH, MAX_ROWS, SignalIndex
from bridge.runtime.device import build_device
from rules.packs.model import Pack
from tests.bridge.page.page_builders import HOSTILE, PAPERS, FlownDevice, RenderedHtml
from tests.bridge.page.test_app import client
from tests.bridge.page.trip_sheet_pack import SHEET, sheet_pack


@pytest.fixture(scope="module")
def sheeted(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack with papers, figures and strips."""
    return sheet_pack(tmp_path_factory.mktemp("packs") / "sheeted")


@pytest.fixture
def flying(sheeted: Pack) -> FlownDevice:
    """A rig of it."""
    return FlownDevice(sheeted, papers=SHEET)


def names(flown: FlownDevice, query: str, quality: str = "") -> list[str]:
    """What is found."""
    return [row.name for row in SignalIndex(flown.device).find(query, quality).rows]


@pytest.mark.parametrize(
    "query", ["engine.1.egt", "EGT 1", "exhaust gas 1", "power plant egt engine 1", "71 engine 1 egt"]
)
def test_a_signal_is_found_by_name_title_meaning_or_chapter(flying: FlownDevice, query: str) -> None:
    """Every word must stand somewhere in what a signal is called; capitals do not matter."""
    found = names(flying, query)
    assert "engine.1.egt" in found
    assert len(found) <= 5


def test_what_is_found_is_bounded_and_counted(flying: FlownDevice) -> None:
    """However many match, so many rows are sent, and how many there are is said."""
    found = SignalIndex(flying.device).find("")
    assert len(found.rows) == MAX_ROWS
    assert found.match_count == found.signal_count > MAX_ROWS
    text = Renderer().render("signals_list.html", {"found": found})
    assert (
        f"{found.signal_count} of {found.signal_count} signals; the first {MAX_ROWS} are shown"
        in RenderedHtml(text).words
    )
    assert len(text) < 100_000


def test_without_words_what_is_wrong_comes_first(flying: FlownDevice) -> None:
    """An invalid signal, then a stale one, then fresh ones, then those never seen."""
    flying.frame(0.0, {"engine.1.egt": 500.0, "flight.on_ground": "nowhere"})
    flying.pass_time(10.0)
    flying.frame(10.0, {"flight.on_ground": "nowhere"})
    qualities = [row.quality for row in SignalIndex(flying.device).find("").rows]
    order = {"invalid": 0, "stale": 1, "fresh": 2, "absent": 3}
    assert [order[quality] for quality in qualities] == sorted(order[quality] for quality in qualities)
    assert {"invalid", "stale", "fresh"} <= set(qualities)


def test_value_quality_and_age(flying: FlownDevice) -> None:
    """Fresh with its unit and age; stale with the last value; never seen without any; papers do not age."""
    flying.frame(0.0, {"engine.1.egt": 512.0})
    flying.pass_time(1.5)
    (row,) = SignalIndex(flying.device).find("engine.1.egt").rows
    assert (row.value, row.quality_word) == ("512 degC", "fresh")
    assert row.age_s == pytest.approx(1.5)
    flying.pass_time(60.0)
    (row,) = SignalIndex(flying.device).find("engine.1.egt").rows
    assert (row.value, row.quality_word) == ("512 degC", "stale")
    assert row.age_s == pytest.approx(61.5)
    (row,) = SignalIndex(flying.device).find("engine.2.egt").rows
    assert (row.value, row.quality_word, row.age_s) == ("", "never seen", None)
    (row,) = SignalIndex(flying.device).find("trip.v2").rows
    assert (row.value, row.age_s, row.origin) == ("140 kt", None, "trip sheet")


def test_only_those_of_a_quality(flying: FlownDevice) -> None:
    """A chosen quality leaves out the others; one that there is not finds nothing."""
    flying.frame(0.0, {"engine.1.egt": 512.0})
    assert "engine.1.egt" in names(flying, "engine", "fresh")
    assert "engine.1.egt" not in names(flying, "engine", "stale")
    assert names(flying, "engine", "excellent") == []


def test_where_it_comes_from_without_a_map(flying: FlownDevice) -> None:
    """A field of its own name; a figure says what it is worked out from."""
    index = SignalIndex(flying.device)
    assert index.find("engine.1.egt").rows[0].origin == "field engine.1.egt"
    assert index.find("figure.least_v2").rows[0].origin == "worked out: least_v2 of figure.stall"
    assert index.find("figure.stall").rows[0].origin == "worked out: a table of figure.mass"


def test_where_it_comes_from_by_a_map(sheeted: Pack, tmp_path: Path) -> None:
    """The map's field, bit or column, and what is done with it; a signal that it leaves out says so."""
    path = tmp_path / "map.yaml"
    path.write_text(
        """
map:
  title: Invented jet
  format: key_value
  same_names: false
  time: CLOCK
  fields:
    engine.1.egt: {from: T_1, scale: 2, offset: -40, unit: degF}
    lights.beacon: {from: FLAGS, bit: 5}
    engine.1.n2: {from: N2, valid: N2_OK}
""",
        "utf-8",
    )
    map_file = load_map(path, sheeted.signals)
    rig = build_device(sheeted, PAPERS, "udp://127.0.0.1:0", map_file=map_file)
    index = SignalIndex(rig)
    assert index.find("engine.1.egt").rows[0].origin == "field T_1, times 2, plus -40, in degF"
    assert index.find("lights.beacon").rows[0].origin == "field bit 5 of FLAGS"
    assert index.find("engine.1.n2").rows[0].origin == "field N2, valid by N2_OK"
    assert index.find("engine.2.egt").rows[0].origin == "no field of the map"
    assert [row.name for row in index.find("T_1").rows] == ["engine.1.egt"]


def test_who_reads_it(flying: FlownDevice) -> None:
    """Items, watches, gates, figures and strips that read a signal are named; one that nothing reads says so."""
    index = SignalIndex(flying.device)
    assert index.find("engine.1.egt").rows[0].used_by == ("Hot start (watch.hot)", "strip Start of engine 1")
    assert "V2 of the sheet (flow.papers.v2_holds)" in index.find("trip.v2").rows[0].used_by
    assert "gate Push back" in index.find("flight.ground_speed").rows[0].used_by
    found = index.find("engine.2.egt")
    assert (
        "Nothing in the pack reads it."
        in RenderedHtml(Renderer().render("signals_list.html", {"found": found})).words
    )


async def test_the_list_is_got_without_a_key_and_is_escaped(flying: FlownDevice) -> None:
    """Anybody may look; what was looked for or sent never becomes part of the page."""
    flying.frame(0.0, {"trip.runway": HOSTILE})
    async with client([flying]) as one:
        answer = await one.get("/device/signals/list", params={"q": "egt"})
        assert answer.status_code == 200
        assert "signal-engine.1.egt" in RenderedHtml(answer.text).ids
        answer = await one.get("/device/signals/list", params={"q": HOSTILE * 50, "quality": HOSTILE})
        assert answer.status_code == 200
        assert "Nothing of that name" in answer.text
        page = await one.get("/device/signals", params={"q": HOSTILE, "quality": "stale"})
        seen = RenderedHtml(page.text)
        assert "img" not in [tag for tag, _ in seen.tags]
        assert HOSTILE[:MAX_QUERY_LENGTH] in [a["value"] for _, a in seen.tags if a.get("id") == "q"]
        assert [a["value"] for tag, a in seen.tags if tag == "option" and "selected" in a] == ["stale"]
        assert (await one.get("/nowhere/signals/list")).status_code == 404
