"""Tests of bridge.page.views.trip_sheet: the form, the parsing of fields, the check, and the change of values."""

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
from rules.packs.model import Pack
from rules.packs.trip_sheet import parse_trip_sheet
from rules.signals.model import TRIP_PREFIX, Value
from rules.source import parse_source
from tests.bridge.page.page_builders import HOSTILE, FlownDevice, RenderedHtml
from tests.bridge.page.test_app import KEY, client, key_header
from tests.bridge.page.trip_sheet_pack import SHEET, sheet_pack
from tests.shipped import shipped_pack

FUEL = {"fuel.total": 8_200.0}


@pytest.fixture(scope="module")
def sheeted(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The pack with checks of the trip sheet."""
    return sheet_pack(tmp_path_factory.mktemp("packs") / "sheeted")


@pytest.fixture(scope="module")
def jet() -> Pack:
    """The shipped twin jet."""
    return shipped_pack("twin_jet")


@pytest.fixture
def flying(sheeted: Pack) -> FlownDevice:
    """A device with this pack and fuel on board."""
    flown = FlownDevice(sheeted, trip=SHEET)
    flown.frame(0.0, FUEL)
    return flown


@pytest.fixture
async def page(flying: FlownDevice) -> AsyncIterator[httpx.AsyncClient]:
    """A client of the device's page."""
    async with client([flying]) as one:
        yield one


def check_results(flown: FlownDevice, **changes: Value) -> dict[str, PlausibilityResult]:
    """Check the trip sheet with these changes; return the results by the last word of the item."""
    session, check = flown.device.session, PlausibilityCheck(flown.device.pack)
    given = {f"{TRIP_PREFIX}{key}": value for key, value in changes.items()}
    found = check.judge({**session.trip_values, **given}, check.samples_of(session.snapshot()))
    return {one.item.rpartition(".")[2]: one for one in found}


async def check_reply(page: httpx.AsyncClient, **values: str) -> dict[str, Any]:
    """Return the reply to a check."""
    answer = await page.post("/device/trip_sheet/check", json={"values": values})
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


# -- the form -------------------------------------------------------------------------------------------------------


def test_the_form_has_every_value_once(flying: FlownDevice) -> None:
    """Each value of the trip sheet is a field with its current text, in one section."""
    seen = flying.shown("trip_sheet")
    names = [a["name"] for tag, a in seen.tags if tag in ("input", "select") and "name" in a]
    keys = [
        name.removeprefix(TRIP_PREFIX) for name in flying.device.pack.signals if name.startswith(TRIP_PREFIX)
    ]
    assert sorted(names) == sorted(keys)
    assert {
        section.title for section in trip_sections(flying.device.pack, flying.device.session.trip_values)
    } <= set(SECTION_TITLES)
    texts = {a["name"]: a["value"] for tag, a in seen.tags if tag == "input" and a.get("value")}
    assert texts["v2"] == "140 kt"
    assert texts["squawk"] == "0217"
    assert texts["qnh"] == "1009.25 hPa"
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
def test_sections_of_values(key: str, section: str) -> None:
    """Each value is in the section of the trip sheet where pilots expect it."""
    assert section_of(key) == section


def test_formatted_values_parse_back(jet: Pack) -> None:
    """All values of the demo's trip sheet, formatted and parsed again, stay the same."""
    sheet = parse_trip_sheet(parse_source(DEMO, "demo.yaml"))
    signals = jet.signals
    texts = {
        name.removeprefix(TRIP_PREFIX): field_text(value, signals[name])
        for name, value in sheet.values.items()
    }
    values, errors = parse_fields(texts, signals)
    assert errors == {}
    assert values == pytest.approx(dict(sheet.values))


DEMO = """
trip:
  title: Lindmere 417
  values: {v1: 128 kt, qnh: 29.805 inHg, block_fuel: 18 078 lb, fuel_density: 0.8031 kg/l, squawk: 0206, runway: "14",
    runway_surface: wet, approach_frequency: 110.35 MHz, takeoff_thrust: 92.45 %, first_engine: left}
"""


def test_units_are_converted(sheeted: Pack) -> None:
    """Pounds, inches of mercury and litres are accepted; litres use the new density or the current one."""
    values, errors = parse_fields(
        {"block_fuel": "10 000 l", "zero_fuel_mass": "100 000 lb", "qnh": "29.92 inHg"},
        sheeted.signals,
        density_kg_l=0.8,
    )
    assert errors == {}
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
def test_invalid_texts_are_errors_of_their_field(sheeted: Pack, key: str, text: str, what: str) -> None:
    """Each error names the problem, and other fields are still parsed."""
    values, errors = parse_fields({key: text, "v1": "130 kt"}, sheeted.signals)
    assert values == {"trip.v1": 130.0}
    (error,) = errors.values()
    assert what in error.what
    assert error.what


def test_accepted_units_are_shown(flying: FlownDevice) -> None:
    """Fuel accepts mass and volume, other masses only mass, and a code has no unit."""
    units = {
        field.key: field.units
        for section in trip_sections(flying.device.pack, flying.device.session.trip_values)
        for field in section.fields
    }
    assert units["block_fuel"] == "kg, lb, l or gal"
    assert units["zero_fuel_mass"] == "kg or lb"
    assert units["squawk"] == ""


def test_an_empty_field_is_skipped(sheeted: Pack) -> None:
    """An empty field is neither a value nor an error."""
    assert parse_fields({"v2": "  ", "v1": ""}, sheeted.signals) == ({}, {})


# -- the check ------------------------------------------------------------------------------------------------------


def test_only_items_about_the_trip_sheet_are_checked(flying: FlownDevice) -> None:
    """Items that compare trip values with figures, gauges and limits are checked; items about settings and calls are not."""
    assert set(check_results(flying)) == {"v2_holds", "fuel_holds", "mass_holds"}


def test_a_good_trip_sheet_passes(flying: FlownDevice) -> None:
    """Each item passes, with the value that the pack needs."""
    found = check_results(flying)
    assert {one.verdict for one in found.values()} == {"passed"}
    assert found["v2_holds"].actual == "140 kt"
    assert "minimum V2 at 56 600 kg" in found["v2_holds"].wanted


def test_a_wrong_value_fails(flying: FlownDevice) -> None:
    """V2 of another mass fails, with both speeds, the mass, and the compared signal."""
    one = check_results(flying, v2=120.0)["v2_holds"]
    assert (one.verdict, one.compared_signals) == ("failed", ("trip.v2",))
    assert "sheet V2 120 kt, needs at least 132 kt (minimum V2 at 56 600 kg" in one.sentence
    assert check_results(flying)["v2_holds"].verdict == "passed"


def test_figures_use_the_changed_values(flying: FlownDevice) -> None:
    """A higher mass makes the same V2 too low, because figures are computed again."""
    assert check_results(flying, zero_fuel_mass=51_900.0)["v2_holds"].verdict == "passed"
    found = check_results(flying, zero_fuel_mass=51_900.0, v2=133.0)
    assert (found["v2_holds"].verdict, found["mass_holds"].verdict) == ("failed", "passed")


def test_without_data_the_result_is_unknown(flying: FlownDevice) -> None:
    """A stale or absent signal makes the result unknown, never passed."""
    flying.pass_time(60.0)
    found = check_results(flying)
    assert found["v2_holds"].verdict == "unknown"
    assert found["fuel_holds"].verdict == "unknown"
    assert {one.verdict for one in check_results(FlownDevice(flying.device.pack, trip=SHEET)).values()} == {
        "unknown"
    }


def test_a_check_changes_nothing(flying: FlownDevice) -> None:
    """The session's judge, trip values and timeline stay the same."""
    judge = flying.device.session.judge
    before = (judge.snapshot(), judge.trip_values, list(flying.device.timeline.entries))
    check_results(flying, v2=100.0, block_fuel=1.0)
    assert (judge.snapshot(), judge.trip_values, list(flying.device.timeline.entries)) == before


def test_the_shipped_packs_check_the_trip_sheet(jet: Pack) -> None:
    """The twin jet checks its whole plausibility flow, and no item about settings or places."""
    items = PlausibilityCheck(jet).items
    flow = jet.flows["plausibility"]
    of_the_aeroplane = {
        "flow.plausibility.loaded_mass",
        "flow.plausibility.loaded_balance",
    }  # no sheet shows them
    assert {item for seat in flow.seats.values() for item in seat} - of_the_aeroplane <= set(items)
    assert not [
        item for item in items if item.startswith(("flow.panel_entries.", "flow.line_up.", "flow.runway."))
    ]
    assert PlausibilityCheck(shipped_pack("trainer")).items


# -- the route ------------------------------------------------------------------------------------------------------


async def test_a_check_needs_no_key(page: httpx.AsyncClient) -> None:
    """Without changes the current trip sheet is checked, and no key is needed."""
    found = await check_reply(page)
    assert (found["errors"], found["conflicts"]) == ({}, {})
    assert "No problems found" in RenderedHtml(found["text"]).words
    assert "3 valid" in RenderedHtml(found["text"]).words


async def test_errors_and_conflicts_belong_to_their_fields(page: httpx.AsyncClient) -> None:
    """A conflicting value, an unreadable one and a good one: messages are by field, and the good one is used."""
    found = await check_reply(page, v2="120 kt", v1="fast", block_fuel="18 078 lb")
    assert set(found["errors"]) == {"v1"}
    assert found["errors"]["v1"]["expected"]
    assert set(found["conflicts"]) == {"v2"}
    assert "needs at least 132 kt" in " ".join(found["conflicts"]["v2"][0].split())
    words = RenderedHtml(found["text"]).words
    assert "1 invalid" in words
    assert "checked with 3 changed values; 1 cannot be read and is left out" in words
    assert "warning" in words
    assert "14 CFR 25.107(b)" in words


async def test_typed_texts_are_escaped(page: httpx.AsyncClient) -> None:
    """Hostile keys and texts become no tag in the reply."""
    found = await check_reply(page, **{HOSTILE: HOSTILE, "v2": HOSTILE, "runway": HOSTILE[:4]})
    assert {"script", "img"}.isdisjoint(tag for tag, _ in RenderedHtml(found["text"]).tags)
    assert "v2" in found["errors"]


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
async def test_invalid_bodies_are_refused(page: httpx.AsyncClient, body: bytes) -> None:
    """A body other than texts by key is refused with a message."""
    answer = await page.post("/device/trip_sheet/check", content=body)
    assert answer.status_code == 400
    assert answer.json()["text"].startswith("not understood")


async def test_a_huge_body_is_refused_before_it_is_read(page: httpx.AsyncClient) -> None:
    """An endless body is not read to its end."""
    sent = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal sent
        for _ in range(10_000):
            sent += 1
            yield b"x" * 1024

    answer = await page.post("/device/trip_sheet/check", content=endless())
    assert answer.status_code == 413
    assert str(MAX_REQUEST_BYTES) in answer.json()["text"]
    assert sent <= MAX_REQUEST_BYTES // 1024 + 2


async def test_many_unknown_keys_are_answered(page: httpx.AsyncClient) -> None:
    """A body full of unknown keys gets an error for each."""
    found = await check_reply(page, **{f"k{number}": "1" for number in range(3000)})
    assert len(found["errors"]) == 3000


async def test_applied_values_are_in_the_form(page: httpx.AsyncClient, flying: FlownDevice) -> None:
    """The page's request changes only the given values, and the form shows them."""
    sheet = msgspec.json.encode(
        {"trip": {"title": "Lindmere 417", "values": {"v2": "145 kt", "squawk": "0400"}}}
    )
    request = {"verb": "amend", "name": "trip_sheet.json", "by": "captain", "reason": sheet.decode()}
    answer = await page.post("/device/do", json=request, headers=key_header(KEY.text))
    assert answer.json()["accepted"], answer.json()["text"]
    judge = flying.device.session.judge
    assert judge.trip_values == {**SHEET.values, "trip.v2": 145.0, "trip.squawk": 400.0}
    fields = {a["name"]: a.get("value") for tag, a in flying.shown("trip_sheet").tags if tag == "input"}
    assert (fields["v2"], fields["squawk"], fields["v1"]) == ("145 kt", "0400", "128 kt")


def test_a_hostile_trip_sheet_is_escaped(sheeted: Pack) -> None:
    """Title, inoperative items and values of a trip sheet are escaped."""
    trip = type(SHEET)(HOSTILE, {"trip.runway": '"><b>'}, ("lights.logo",), HOSTILE)
    seen = FlownDevice(sheeted, trip=trip).shown("trip_sheet")
    assert {"script", "img", "b"}.isdisjoint(tag for tag, _ in seen.tags)
    assert "alert('x')" in seen.words
    assert '"><b>' in [a.get("value") for _, a in seen.tags]


def test_a_pack_without_checks_shows_a_message(paged: Pack) -> None:
    """A pack without checks of the trip sheet is no error."""
    check = PlausibilityCheck(paged)
    assert check.items == ()
    flown = FlownDevice(paged)
    assert check.judge({}, check.samples_of(flown.device.session.snapshot())) == ()
    empty = {"failed": [], "unknown": [], "passed": [], "changed_count": 0, "error_count": 0}
    assert (
        "This pack has no checks of the trip sheet"
        in RenderedHtml(Renderer().render("views/trip_sheet/check_result.html", empty)).words
    )
