"""A trip sheet is read with its units, and all faults of a sheet are reported at their places."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.faults import Fault, InputFaults
from rules.packs.trip_sheet import TripSheet, load_trip_sheet, parse_trip_sheet
from rules.signals.book import load_book, load_books
from rules.signals.state import SignalState
from rules.source import parse_source

DEMO = Path(__file__).parents[3] / "rules" / "packs" / "data" / "twin_jet" / "trip_demo.yaml"
JET = load_books(["twin_jet", "trip"])


def sheet(values: str = "", inoperative: str = "[]") -> TripSheet:
    """A sheet with these values, written in braces."""
    text = f"trip:\n  title: A flight\n  inoperative: {inoperative}\n  values: {{{values}}}\n"
    return parse_trip_sheet(parse_source(text, "sheet.yaml"), JET)


def faults(values: str = "", inoperative: str = "[]") -> list[str]:
    """Head line and hint of every fault."""
    with pytest.raises(InputFaults) as caught:
        sheet(values, inoperative)
    return [
        f"{str(fault).splitlines()[0]}{f' / {fault.hint}' if fault.hint else ''}"
        for fault in caught.value.faults
    ]


def added(*names: str) -> float:
    """Sum of some values of the shipped sheet."""
    values = load_trip_sheet(DEMO, JET).values
    return sum(value for name in names if isinstance(value := values[f"trip.{name}"], float))


def test_the_demo_sheet() -> None:
    """The shipped sheet sets every trip signal, adds up, and says that it is invented."""
    trip = load_trip_sheet(DEMO, JET)
    assert set(trip.values) == set(load_book("trip").signals)
    value = {name.removeprefix("trip."): value for name, value in trip.values.items()}
    assert (value["v1"], value["vr"], value["v2"], value["first_speed"]) == (128.0, 132.0, 138.0, 138.0)
    assert (value["runway"], value["squawk"], value["first_engine"]) == ("14", 4217.0, "right")
    zero_fuel, block, taxi, takeoff = (
        value[name] for name in ("zero_fuel_mass", "block_fuel", "taxi_fuel", "takeoff_mass")
    )
    assert isinstance(zero_fuel, float) and isinstance(block, float) and isinstance(taxi, float)  # noqa: PT018
    assert zero_fuel + block - taxi == takeoff
    assert added("empty_mass", "load") == zero_fuel
    assert takeoff == added("landing_mass", "trip_fuel")
    assert (
        added(
            "taxi_fuel", "trip_fuel", "contingency_fuel", "alternate_fuel", "final_reserve_fuel", "extra_fuel"
        )
        == block
    )
    assert added("fuel_left", "fuel_centre", "fuel_right") == block
    assert added("alternate_fuel", "final_reserve_fuel") == value["reserve_fuel"]
    assert "invented" in trip.note.lower()
    assert "simulation only" in trip.note


def test_the_demo_sheet_goes_into_state() -> None:
    """Every value of the sheet is fresh in the state and never ages."""
    state = SignalState(JET)
    for name, value in load_trip_sheet(DEMO).values.items():
        state.set_value(name, value, 0.0)
    state.expire(1e9)
    assert set(state.values) == set(load_book("trip").signals)


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("block_fuel: 8 200 kg", "block_fuel", 8200.0),
        ("block_fuel: 18078 lb", "block_fuel", 18078 * 0.45359237),
        ("qnh: 29.92 inHg", "qnh", 29.92 * 33.8639),
        ("qnh: 1009 hPa", "qnh", 1009.0),
        ("landing_qnh: 29.65 inHg", "landing_qnh", 29.65 * 33.8639),
        ("load: 31 747 lb", "load", 31747 * 0.45359237),
        ("fuel_uplift: 1 700 gal", "fuel_uplift", 1700 * 3.785411784),
        ("fuel_density: 6.7 lb/gal", "fuel_density", 6.7 * 0.45359237 / 3.785411784),
        ("runway_length: 7 874 ft", "runway_length", 2400),
        ("landing_runway_surface: wet", "landing_runway_surface", "wet"),
        ("outside_air_temperature: 50 degF", "outside_air_temperature", 10.0),
        ("outside_air_temperature: -12.5 degC", "outside_air_temperature", -12.5),
        ("first_altitude: 1 800 m", "first_altitude", 1800 / 0.3048),
        ("v1: 65.849 m/s", "v1", 128.0),
        ("centre_of_gravity: 24.1%", "centre_of_gravity", 24.1),
        ("runway_heading: 360 deg", "runway_heading", 360.0),
        ("squawk: 4217", "squawk", 4217.0),
        ("squawk: 0417", "squawk", 417.0),
        ('squawk: "0000"', "squawk", 0.0),
        ('runway: "05L"', "runway", "05L"),
        ("runway: 05", "runway", "05"),
        ("first_engine: left", "first_engine", "left"),
    ],
)
def test_values_come_in_the_books_units(text: str, name: str, value: float | str) -> None:
    """A value is converted from its unit in the file."""
    wanted = value if isinstance(value, str) else pytest.approx(value, rel=1e-5)
    assert sheet(text).values == {f"trip.{name}": wanted}


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("block_fuel: 10 000 l, fuel_density: 0.803 kg/l", "block_fuel", 8030),
        ("fuel_density: 0.803 kg/l, block_fuel: 10 000 l", "block_fuel", 8030),
        ("fuel_left: 1 000 gal, fuel_density: 6.7 lb/gal", "fuel_left", 6700 * 0.45359237),
    ],
)
def test_a_volume_of_fuel_is_weighed(text: str, name: str, value: float) -> None:
    """Litres and US gallons of fuel become a mass by the density on the sheet, wherever that is."""
    assert sheet(text).values[f"trip.{name}"] == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("block_fuel: 10 000 l", "4:24: a volume of fuel needs its density, expected fuel_density on the sheet / write such as fuel_density: 0.8 kg/l"),
        ("fuel_density: 1.77 kg/l", "4:26: sheet fuel density of 1.77 kg/l is out of range, expected 0.65 to 0.9 kg/l"),
        ("zero_fuel_mass: 100 l", "4:28: 'l' does not convert to 'kg', expected kg, or a unit that converts to it"),
        ("block_fuel: 8200", "4:24: '8200' has no unit, expected kg or lb / write 8200 kg or 8200 lb"),
        ("qnh: 1009", "4:17: '1009' has no unit, expected hPa or inHg / write 1009 hPa or 1009 inHg"),
        ("fuel_uplift: 1700", "4:25: '1700' has no unit, expected l or gal / write 1700 l or 1700 gal"),
    ],
)  # fmt: skip
def test_a_number_that_could_be_either(text: str, what: str) -> None:
    """A mass, pressure or volume without a unit is refused, and a volume without a density too."""
    assert faults(text)[-1] == f"sheet.yaml:{what}"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("v1: 128", "4:16: '128' has no unit, expected a unit such as kt / write 128 kt"),
        ('v1: "128"', "4:16: '128' has no unit, expected a unit such as kt / write 128 kt"),
        ("v1: 128 kg", "4:16: 'kg' does not convert to 'kt', expected kt, or a unit that converts to it"),
        ("v1: 128 knt", "4:16: unknown unit 'knt', expected kt, or a unit that converts to it / did you mean kt?"),
        ("v1: 400 m/s", "4:16: sheet V1 of 778 kt is out of range, expected 0 to 250 kt"),
        ("v1: -1 kt", "4:16: sheet V1 of -1 kt is out of range, expected 0 to 250 kt"),
        ("v1: fast", "4:16: 'fast' is not an amount, expected a number with its unit, such as 125 kt / sheet V1 is in kt"),
        ("v1: [128 kt]", "4:16: a list is not an amount, expected a number with its unit, such as 125 kt / sheet V1 is in kt"),
        ("v1: true", "4:16: 'true' is not an amount, expected a number with its unit, such as 125 kt / sheet V1 is in kt"),
        ('takeoff_flap: "5,5 deg"', "4:26: '5,5 deg' is not an amount, expected a number with its unit, such as 20 deg / decimals have a point, thousands a space: 1.5 kg, 8 200 kg"),
        ("v1: ", "4:12: v1 has no value, expected a value, or the line left out"),
        ("v_1: 128 kt", "4:12: unknown key v_1, expected a value of the trip sheet / did you mean v1?"),
        ("squawk: 4218", "4:20: '4218' is not a code for sheet squawk, expected four digits from 0 to 7"),
        ("squawk: 12345", "4:20: '12345' is not a code for sheet squawk, expected four digits from 0 to 7"),
        ("squawk: 4217 kg", "4:20: '4217 kg' is not a code for sheet squawk, expected four digits from 0 to 7"),
        ("squawk: 421.7", "4:20: '421.7' is not a code for sheet squawk, expected four digits from 0 to 7"),
        ("squawk: -1", "4:20: '-1' is not a code for sheet squawk, expected four digits from 0 to 7"),
        ("runway: 14", "4:20: '14' is not text, expected text (put it in quotes) / write \"14\""),
        ("runway: fourteen", "4:20: 'fourteen' has 8 characters, expected 1 to 4"),
        ("first_engine: rigth", "4:26: 'rigth' is not a word of first engine to start, expected left or right / did you mean right?"),
        ("first_engine: 2", "4:26: '2' is not a word of first engine to start, expected left or right"),
    ],
)  # fmt: skip
def test_invalid_trip_values_are_refused(text: str, what: str) -> None:
    """A value without its unit, with the wrong one, out of range, or of another kind is refused at its place."""
    assert faults(text) == [f"sheet.yaml:{what}"]


def test_every_fault_at_once() -> None:
    """Faults of the form, the values and the inoperative signals are reported together, in order."""
    text = "trip:\n  titel: A flight\n  inoperative: [apuu]\n  values:\n    v1: 128\n    vr: 1 kg\n    v3: 1 kt\nmore: 1\n"
    with pytest.raises(InputFaults) as caught:
        parse_trip_sheet(parse_source(text, "sheet.yaml"), JET)
    lines = [fault.place.line for fault in caught.value.faults]
    assert lines == sorted(lines)
    assert {2, 5, 6, 7, 8} <= set(lines)
    assert "did you mean title?" in str(caught.value)


@pytest.mark.parametrize("name", ["apu", "ice.engine", "ice.engine.1", "gear", "weather_radar"])
def test_inoperative_names(name: str) -> None:
    """A signal's name, or its beginning up to a dot, may be dispatched inoperative."""
    assert sheet(inoperative=f"[{name}]").inoperative == (name,)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("[ice.engin]", "3:17: unknown signal ice.engin / did you mean ice.engine?"),
        ("[ice.eng]", "3:17: unknown signal ice.eng / did you mean ice.engine?"),
        ("[apu, apu]", "3:22: 'apu' is listed twice, expected each name once"),
        (
            "[apu.*]",
            "3:17: 'apu.*' is not a signal's name, expected a name, or its beginning up to a dot: ice.engine",
        ),
        ("[5]", "3:17: 5, expected text (put it in quotes)"),
    ],
)
def test_unknown_inoperative_names_are_refused(text: str, what: str) -> None:
    """An unknown signal is refused with a hint."""
    assert faults(inoperative=text)[0] == f"sheet.yaml:{what}"


def test_speeds_out_of_order_are_no_fault_of_the_sheet() -> None:
    """V1 above VR is a finding for the crew, not a fault of the file."""
    assert sheet("v1: 140 kt, vr: 130 kt").values == {"trip.v1": 140.0, "trip.vr": 130.0}


def test_json(tmp_path: Path) -> None:
    """The same sheet may be JSON, and its faults have places too."""
    path = tmp_path / "sheet.json"
    path.write_text(
        json.dumps({"trip": {"title": "t", "values": {"v1": "128 kt", "squawk": "0417"}}}), "utf-8"
    )
    assert load_trip_sheet(path) == TripSheet("t", {"trip.v1": 128.0, "trip.squawk": 417.0})
    path.write_text('{"trip": {"title": "t",\n "values": {"v1": 128}}}', "utf-8")
    with pytest.raises(InputFaults, match=r"sheet\.json:2:19: '128' has no unit"):
        load_trip_sheet(path)


@pytest.mark.parametrize(
    "text", ["", "[]", "5", "trip:", "trip: 5", "trip: {title: t, values: 5}", "trip: [", "\ttrip:"]
)
def test_a_file_with_other_contents_is_refused(tmp_path: Path, text: str) -> None:
    """A file with other contents is refused with a place."""
    path = tmp_path / "odd.yaml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputFaults, match=r"odd\.yaml"):
        load_trip_sheet(path)


def test_missing_file(tmp_path: Path) -> None:
    """A path without a file is a fault, not a crash."""
    with pytest.raises(InputFaults, match=r"none\.yaml"):
        load_trip_sheet(tmp_path / "none.yaml")


PLAIN = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=5,
)


@given(
    st.dictionaries(
        st.sampled_from(sorted(name.removeprefix("trip.") for name in load_book("trip").signals)), PLAIN
    )
)
def test_no_value_raises_anything_else(values: dict[str, object]) -> None:
    """With any value the sheet is read or refused with faults, and no other error."""
    text = json.dumps({"trip": {"title": "t", "values": values}})
    trip, refused = _tried(text)
    if trip is not None:
        assert set(trip.values) == {f"trip.{name}" for name in values}
    assert (trip is None) == bool(refused)
    assert all(fault.place.line for fault in refused)


def _tried(text: str) -> tuple[TripSheet | None, tuple[Fault, ...]]:
    """The sheet, or its faults."""
    try:
        return parse_trip_sheet(parse_source(text, "sheet.json"), JET), ()
    except InputFaults as error:
        return None, error.faults


def test_the_document_lists_every_value() -> None:
    """The table in the document on rule packs lists each value of a trip sheet, and no other."""
    document = (Path(__file__).parents[3] / "rules" / "packs" / "README.md").read_text("utf-8")
    rows = document[document.index("| part | values |") :].split("\n\n")[0]
    assert {f"trip.{name}" for name in re.findall(r"`(\w+)`", rows)} == set(load_book("trip").signals)
