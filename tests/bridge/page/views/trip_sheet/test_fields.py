"""Tests of bridge.page.views.trip_sheet.fields, plausible and the trial of papers: read, tried, told at their fields, taken over."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Any

import httpx
import msgspec
import pytest

from bridge.page.renderer import Renderer
from bridge.page.views.trip_sheet.fields import (
    SECTION_TITLES,
    field_text,
    parse_fields,
    section_of,
    trip_sections,
)
from bridge.page.views.trip_sheet.plausibility import PlausibilityCheck, PlausibilityResult
from bridge.runtime.control import MAX_REQUEST_BYTES
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TRIP_PREFIX, parse_trip_sheet
from rules.signals.model import Value
from rules.source import parse_source
from tests.bridge.page.page_builders import HOSTILE, FlownDevice, RenderedHtml
from tests.bridge.page.test_app import KEY, client, keyed
from tests.bridge.page.trip_sheet_pack import SHEET, sheet_pack

FUEL = {"fuel.total": 8_200.0}


@pytest.fixture(scope="module")
def sheeted(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack with papers that can be wrong."""
    return sheet_pack(tmp_path_factory.mktemp("packs") / "sheeted")


@pytest.fixture(scope="module")
def jet() -> Pack:
    """The twin jet that we ship."""
    return load_pack("twin_jet")


@pytest.fixture
def flying(sheeted: Pack) -> FlownDevice:
    """A rig of it, with fuel on board."""
    flown = FlownDevice(sheeted, papers=SHEET)
    flown.frame(0.0, FUEL)
    return flown


@pytest.fixture
async def page(flying: FlownDevice) -> AsyncIterator[httpx.AsyncClient]:
    """A client of its page."""
    async with client([flying]) as one:
        yield one


def judged(flown: FlownDevice, **papers: Value) -> dict[str, PlausibilityResult]:
    """Each expectation about papers by the last word of its id, with these papers beside those that hold."""
    core, trial = flown.device.session.judge, PlausibilityCheck(flown.device.pack)
    given = {f"{TRIP_PREFIX}{key}": value for key, value in papers.items()}
    found = trial.judge({**core.trip_values, **given}, trial.snapshot(core.context.state))
    return {one.item.rpartition(".")[2]: one for one in found}


async def tried(page: httpx.AsyncClient, **values: str) -> dict[str, Any]:
    """The answer to a trial."""
    answer = await page.post("/device/papers/try", json={"values": values})
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


# -- the form -------------------------------------------------------------------------------------------------------


def test_the_form_has_every_paper_of_the_pack_once(flying: FlownDevice) -> None:
    """Each value of the trip sheet is a field with its label, in one of the sections, with what holds in it."""
    seen = flying.shown("papers")
    names = [a["name"] for tag, a in seen.tags if tag in ("input", "select") and "name" in a]
    papers = [
        name.removeprefix(TRIP_PREFIX) for name in flying.device.pack.signals if name.startswith(TRIP_PREFIX)
    ]
    assert sorted(names) == sorted(papers)
    assert {section.title for section in trip_sections(flying.device)} <= set(SECTION_TITLES)
    held = {a["name"]: a["value"] for tag, a in seen.tags if tag == "input" and a.get("value")}
    assert held["v2"] == "140 kt"
    assert held["squawk"] == "0217"
    assert held["qnh"] == "1009.25 hPa"
    assert [a["value"] for tag, a in seen.tags if tag == "option" and "selected" in a and a["value"]] == [
        "dry"
    ]


@pytest.mark.parametrize(
    ("key", "section"),
    [
        ("v1", "Take-off"),
        ("squawk", "Clearance"),
        ("takeoff_mass", "Masses"),
        ("fuel_left", "Fuel"),
        ("block_fuel", "Fuel"),
        ("landing_mass", "Masses"),
        ("landing_qnh", "Landing"),
        ("vref", "Landing"),
    ],
)
def test_a_paper_stands_where_a_pilot_looks_for_it(key: str, section: str) -> None:
    """The sections are those of the sheet."""
    assert section_of(key) == section


def test_what_is_written_in_the_form_reads_back_as_it_was(jet: Pack) -> None:
    """The demo's whole sheet, written into the fields and read again, gives the same values."""
    sheet = parse_trip_sheet(parse_source(DEMO, "demo.yaml"))
    signals = jet.signals
    typed = {
        name.removeprefix(TRIP_PREFIX): field_text(value, signals[name])
        for name, value in sheet.values.items()
    }
    values, wrong = parse_fields(typed, signals)
    assert wrong == {}
    assert values == pytest.approx(dict(sheet.values))


DEMO = """
trip:
  title: Lindmere 417
  values: {v1: 128 kt, qnh: 29.805 inHg, block_fuel: 18 078 lb, fuel_density: 0.8031 kg/l, squawk: 0206, runway: "14",
    runway_surface: wet, approach_frequency: 110.35 MHz, takeoff_thrust: 92.45 %, first_engine: left}
"""


def test_units_convert_as_on_a_sheet_in_a_file(sheeted: Pack) -> None:
    """Pounds, inches and litres are taken, litres by the density that is typed or else the one that holds."""
    values, wrong = parse_fields(
        {"block_fuel": "10 000 l", "zero_fuel_mass": "100 000 lb", "qnh": "29.92 inHg"},
        sheeted.signals,
        density_kg_l=0.8,
    )
    assert wrong == {}
    assert values == pytest.approx(
        {"trip.block_fuel": 8000.0, "trip.zero_fuel_mass": 45_359.237, "trip.qnh": 1013.21}, abs=0.01
    )
    values, _ = parse_fields({"fuel_density": "0.7 kg/l", "block_fuel": "10 000 l"}, sheeted.signals, 0.8)
    assert values["trip.block_fuel"] == pytest.approx(7000.0)


@pytest.mark.parametrize(
    ("key", "text", "what"),
    [
        ("v2", "128", "no unit"),
        ("v2", "fast", "not an amount"),
        ("v2", "128 kg", ""),
        ("v2", "900 kt", "out of range"),
        ("v2", "1e999 kt", ""),
        ("block_fuel", "100 l", "needs its density"),
        ("squawk", "9999", "not a code"),
        ("runway_surface", "icy", "not a word"),
        ("runway", "too long a name", "characters"),
        ("v3", "128 kt", "no such value"),
        (HOSTILE, "1", "no such value"),
    ],
)
def test_what_cannot_be_read_is_said_at_its_field(sheeted: Pack, key: str, text: str, what: str) -> None:
    """Each fault names what is wrong, and the values beside it are read all the same."""
    values, wrong = parse_fields({key: text, "v1": "130 kt"}, sheeted.signals)
    assert values == {"trip.v1": 130.0}
    (fault,) = wrong.values()
    assert what in fault.what
    assert fault.what


def test_units_are_offered_where_there_is_a_choice(flying: FlownDevice) -> None:
    """Fuel by mass or volume, other masses by mass alone, and no unit for a code."""
    units = {field.key: field.units for section in trip_sections(flying.device) for field in section.fields}
    assert units["block_fuel"] == "kg, lb, l or gal"
    assert units["zero_fuel_mass"] == "kg or lb"
    assert units["squawk"] == ""


def test_an_empty_field_says_nothing(sheeted: Pack) -> None:
    """What was emptied is neither a value nor a fault."""
    assert parse_fields({"v2": "  ", "v1": ""}, sheeted.signals) == ({}, {})


# -- the trial ------------------------------------------------------------------------------------------------------


def test_only_what_is_about_papers_is_tried(flying: FlownDevice) -> None:
    """Papers against figures, gauges and limits are tried; what was dialled, switched or said is not."""
    assert set(judged(flying)) == {"v2_holds", "fuel_holds", "mass_holds"}


def test_good_papers_can_be_right_with_the_working(flying: FlownDevice) -> None:
    """Each answer is yes, with what the pack needs and how it came about."""
    found = judged(flying)
    assert {one.verdict for one in found.values()} == {"yes"}
    assert found["v2_holds"].actual == "140 kt"
    assert "least V2 at 56 600 kg" in found["v2_holds"].wanted


def test_a_wrong_paper_cannot_be_right(flying: FlownDevice) -> None:
    """V2 of another mass is told with both numbers, the mass, and at the field that it is about."""
    one = judged(flying, v2=120.0)["v2_holds"]
    assert (one.verdict, one.compared_signals) == ("no", ("trip.v2",))
    assert "sheet V2 120 kt, needs at least 132 kt (least V2 at 56 600 kg" in one.sentence
    assert judged(flying)["v2_holds"].verdict == "yes"


def test_a_mass_moves_the_speed_that_it_needs(flying: FlownDevice) -> None:
    """A heavier sheet makes the same V2 too slow: figures are worked out anew."""
    assert judged(flying, zero_fuel_mass=51_900.0)["v2_holds"].verdict == "yes"
    found = judged(flying, zero_fuel_mass=51_900.0, v2=133.0)
    assert (found["v2_holds"].verdict, found["mass_holds"].verdict) == ("no", "yes")


def test_without_the_aeroplane_it_cannot_be_told(flying: FlownDevice) -> None:
    """A gauge that is stale or was never seen gives unknown, never yes."""
    flying.pass_time(60.0)
    found = judged(flying)
    assert found["v2_holds"].verdict == "unknown"
    assert found["fuel_holds"].verdict == "unknown"
    assert {one.verdict for one in judged(FlownDevice(flying.device.pack, papers=SHEET)).values()} == {
        "unknown"
    }


def test_a_trial_changes_nothing(flying: FlownDevice) -> None:
    """The watch's own core, its papers and what it has told are as they were."""
    core = flying.device.session.judge
    before = (core.snapshot(), core.trip_values, list(flying.device.timeline.entries))
    judged(flying, v2=100.0, block_fuel=1.0)
    assert (core.snapshot(), core.trip_values, list(flying.device.timeline.entries)) == before


def test_the_shipped_packs_have_something_to_say_of_papers(jet: Pack) -> None:
    """The twin jet tries its plausibility flow whole, and nothing that was dialled or that is a place."""
    items = PlausibilityCheck(jet).items
    flow = jet.flows["plausibility"]
    assert {item for seat in flow.seats.values() for item in seat} <= set(items)
    assert not [item for item in items if item.startswith(("flow.papers.", "flow.line_up.", "flow.runway."))]
    assert PlausibilityCheck(load_pack("trainer")).items


# -- the route ------------------------------------------------------------------------------------------------------


async def test_a_trial_needs_no_key(page: httpx.AsyncClient) -> None:
    """Nothing typed: the papers that hold are judged."""
    found = await tried(page)
    assert (found["faults"], found["against"]) == ({}, {})
    assert "Nothing speaks against them" in RenderedHtml(found["text"]).words
    assert "3 can be right" in RenderedHtml(found["text"]).words


async def test_faults_and_verdicts_come_at_their_fields(page: httpx.AsyncClient) -> None:
    """A wrong value, one that cannot be read and a good one: each is told where it stands, and the good one is used."""
    found = await tried(page, v2="120 kt", v1="fast", block_fuel="18 078 lb")
    assert set(found["faults"]) == {"v1"}
    assert found["faults"]["v1"]["expected"]
    assert set(found["against"]) == {"v2"}
    assert "needs at least 132 kt" in " ".join(found["against"]["v2"][0].split())
    words = RenderedHtml(found["text"]).words
    assert "1 cannot be right" in words
    assert "tried with 3 values as typed; 1 cannot be read and is left as it is" in words
    assert "warning" in words
    assert "14 CFR 25.107(b)" in words


async def test_what_is_typed_never_becomes_part_of_the_page(page: httpx.AsyncClient) -> None:
    """Hostile keys and texts come back as text in JSON, and as no tag in the list."""
    found = await tried(page, **{HOSTILE: HOSTILE, "v2": HOSTILE, "runway": HOSTILE[:4]})
    assert {"script", "img"}.isdisjoint(tag for tag, _ in RenderedHtml(found["text"]).tags)
    assert "v2" in found["faults"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"{}",
        b'{"values": []}',
        b'{"values": {"v2": 128}}',
        b'{"values": {}, "more": 1}',
        b"\xff",
        b'{"values": ' * 2000,
    ],
)
async def test_what_is_no_trial_is_not_understood(page: httpx.AsyncClient, body: bytes) -> None:
    """Anything but texts by key is refused with a sentence."""
    answer = await page.post("/device/papers/try", content=body)
    assert answer.status_code == 400
    assert answer.json()["text"].startswith("not understood")


async def test_a_huge_body_is_refused_before_it_is_read_whole(page: httpx.AsyncClient) -> None:
    """An endless body is cut short."""
    taken = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal taken
        for _ in range(10_000):
            taken += 1
            yield b"x" * 1024

    answer = await page.post("/device/papers/try", content=endless())
    assert answer.status_code == 413
    assert str(MAX_REQUEST_BYTES) in answer.json()["text"]
    assert taken <= MAX_REQUEST_BYTES // 1024 + 2


async def test_as_many_values_as_fit_are_no_trouble(page: httpx.AsyncClient) -> None:
    """A body full of keys that nobody knows is answered."""
    found = await tried(page, **{f"k{number}": "1" for number in range(3000)})
    assert len(found["faults"]) == 3000


async def test_taken_over_papers_are_amended_and_stand_in_the_form(
    page: httpx.AsyncClient, flying: FlownDevice
) -> None:
    """What the page sends to take papers over changes those values alone, and the form shows them."""
    sheet = msgspec.json.encode(
        {"trip": {"title": "Lindmere 417", "values": {"v2": "145 kt", "squawk": "0400"}}}
    )
    request = {"verb": "amend", "name": "papers.json", "by": "captain", "reason": sheet.decode()}
    answer = await page.post("/device/do", json=request, headers=keyed(KEY.text))
    assert answer.json()["accepted"], answer.json()["text"]
    core = flying.device.session.judge
    assert core.trip_values == {**SHEET.values, "trip.v2": 145.0, "trip.squawk": 400.0}
    fields = {a["name"]: a.get("value") for tag, a in flying.shown("papers").tags if tag == "input"}
    assert (fields["v2"], fields["squawk"], fields["v1"]) == ("145 kt", "0400", "128 kt")


def test_a_hostile_sheet_is_shown_as_text(sheeted: Pack) -> None:
    """Title, inoperative items and values of a sheet are escaped."""
    papers = type(SHEET)(HOSTILE, {"trip.runway": '"><b>'}, ("lights.logo",), HOSTILE)
    seen = FlownDevice(sheeted, papers=papers).shown("papers")
    assert {"script", "img", "b"}.isdisjoint(tag for tag, _ in seen.tags)
    assert "alert('x')" in seen.words
    assert '"><b>' in [a.get("value") for _, a in seen.tags]


def test_the_list_of_a_pack_without_such_rules_says_so(paged: Pack) -> None:
    """A pack that says nothing of papers is no error."""
    trial = PlausibilityCheck(paged)
    assert trial.items == ()
    flown = FlownDevice(paged)
    assert trial.judge({}, trial.snapshot(flown.device.session.judge.context.state)) == ()
    empty = {"no": [], "unknown": [], "yes": [], "changed": 0, "faults": 0}
    assert (
        "The pack says nothing of papers" in RenderedHtml(Renderer().render("papers_tried.html", empty)).words
    )
