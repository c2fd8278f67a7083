"""Tests of bridge.page.views.signals.signal_index: search, value, quality, age, origin and users of signals."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.mapping.load_map import load_map
from bridge.page.renderer import Renderer
from bridge.page.views.signals.signal_index import MAX_QUERY_LENGTH, MAX_ROWS, SignalIndex
from bridge.runtime.device import build_device
from rules.packs.model import Pack
from tests.bridge.page.page_builders import HOSTILE, TRIP_SHEET, FlownDevice, RenderedHtml
from tests.bridge.page.test_app import client
from tests.bridge.page.trip_sheet_pack import SHEET, sheet_pack


@pytest.fixture(scope="module")
def sheeted(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack with trip sheet, figures and traces."""
    return sheet_pack(tmp_path_factory.mktemp("packs") / "sheeted")


@pytest.fixture
def flying(sheeted: Pack) -> FlownDevice:
    """A device with this pack."""
    return FlownDevice(sheeted, trip=SHEET)


def names(flown: FlownDevice, query: str, quality: str = "") -> list[str]:
    """Return the names of the found signals."""
    return [row.name for row in SignalIndex(flown.device).find(query, quality).rows]


@pytest.mark.parametrize(
    "query", ["engine.1.egt", "EGT 1", "exhaust gas 1", "power plant egt engine 1", "71 engine 1 egt"]
)
def test_a_signal_is_found_by_name_title_meaning_or_chapter(flying: FlownDevice, query: str) -> None:
    """Every word must occur in the texts of the signal, in any case of letters."""
    found = names(flying, query)
    assert "engine.1.egt" in found
    assert len(found) <= 5


def test_results_are_bounded_and_counted(flying: FlownDevice) -> None:
    """At most `MAX_ROWS` rows are sent, with the number of all matches."""
    found = SignalIndex(flying.device).find("")
    assert len(found.rows) == MAX_ROWS
    assert found.match_count == found.signal_count > MAX_ROWS
    text = Renderer().render("views/signals/results.html", {"found": found})
    assert (
        f"{found.signal_count} of {found.signal_count} signals; the first {MAX_ROWS} are shown"
        in RenderedHtml(text).words
    )
    assert len(text) < 100_000


def test_an_empty_query_lists_problems_first(flying: FlownDevice) -> None:
    """Invalid signals come first, then stale, fresh and never received ones."""
    flying.frame(0.0, {"engine.1.egt": 500.0, "flight.on_ground": "nowhere"})
    flying.pass_time(10.0)
    flying.frame(10.0, {"flight.on_ground": "nowhere"})
    qualities = [row.quality for row in SignalIndex(flying.device).find("").rows]
    order = {"invalid": 0, "stale": 1, "fresh": 2, "absent": 3}
    assert [order[quality] for quality in qualities] == sorted(order[quality] for quality in qualities)
    assert {"invalid", "stale", "fresh"} <= set(qualities)


def test_value_quality_and_age(flying: FlownDevice) -> None:
    """Fresh and stale signals show value and age, absent ones neither; values of the trip sheet have no age."""
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


def test_a_quality_filters_the_results(flying: FlownDevice) -> None:
    """A chosen quality excludes the others; an unknown quality finds nothing."""
    flying.frame(0.0, {"engine.1.egt": 512.0})
    assert "engine.1.egt" in names(flying, "engine", "fresh")
    assert "engine.1.egt" not in names(flying, "engine", "stale")
    assert names(flying, "engine", "excellent") == []


def test_origins_without_a_map(flying: FlownDevice) -> None:
    """Without a map the origin is the field of the same name; a figure names its inputs."""
    index = SignalIndex(flying.device)
    assert index.find("engine.1.egt").rows[0].origin == "field engine.1.egt"
    assert index.find("figure.minimum_v2").rows[0].origin == "computed: minimum_v2 of figure.stall"
    assert index.find("figure.stall").rows[0].origin == "computed: a table of figure.mass"


def test_origins_with_a_map(sheeted: Pack, tmp_path: Path) -> None:
    """The origin names the map's field or bit with its conversion, or says that there is none."""
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
    device = build_device(sheeted, TRIP_SHEET, "udp://127.0.0.1:0", map_file=map_file)
    index = SignalIndex(device)
    assert index.find("engine.1.egt").rows[0].origin == "field T_1, times 2, plus -40, in degF"
    assert index.find("lights.beacon").rows[0].origin == "field bit 5 of FLAGS"
    assert index.find("engine.1.n2").rows[0].origin == "field N2, valid by N2_OK"
    assert index.find("engine.2.egt").rows[0].origin == "no field of the map"
    assert [row.name for row in index.find("T_1").rows] == ["engine.1.egt"]


def test_users_of_a_signal(flying: FlownDevice) -> None:
    """The items, watches, gates, figures and traces that read a signal are named, or there is a message."""
    index = SignalIndex(flying.device)
    assert index.find("engine.1.egt").rows[0].used_by == ("Hot start (watch.hot)", "trace Start of engine 1")
    assert "V2 of the sheet (flow.sheet.v2_holds)" in index.find("trip.v2").rows[0].used_by
    assert "gate Push back" in index.find("flight.ground_speed").rows[0].used_by
    found = index.find("engine.2.egt")
    assert (
        "Not used by the pack."
        in RenderedHtml(Renderer().render("views/signals/results.html", {"found": found})).words
    )


async def test_the_search_needs_no_key_and_is_escaped(flying: FlownDevice) -> None:
    """The search needs no key; queries and values are escaped."""
    flying.frame(0.0, {"trip.runway": HOSTILE})
    async with client([flying]) as one:
        answer = await one.get("/device/signals/list", params={"q": "egt"})
        assert answer.status_code == 200
        assert "signal-engine.1.egt" in RenderedHtml(answer.text).ids
        answer = await one.get("/device/signals/list", params={"q": HOSTILE * 50, "quality": HOSTILE})
        assert answer.status_code == 200
        assert "No matching signals" in answer.text
        page = await one.get("/device/signals", params={"q": HOSTILE, "quality": "stale"})
        seen = RenderedHtml(page.text)
        assert "img" not in [tag for tag, _ in seen.tags]
        assert HOSTILE[:MAX_QUERY_LENGTH] in [a["value"] for _, a in seen.tags if a.get("id") == "q"]
        assert [a["value"] for tag, a in seen.tags if tag == "option" and "selected" in a] == ["stale"]
        assert (await one.get("/nowhere/signals/list")).status_code == 404
