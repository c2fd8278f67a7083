"""Figures and tables of a pack: checks with places, and the order of computation."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.packs.figure_functions import FIGURE_FUNCTIONS, TEXT_PARAMETER
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.signals import units
from rules.signals.model import SignalKind

HEAD = """\
pack: {id: small, title: Small, signals: [twin_jet, trip]}
seats: {captain: Captain}
phases: {preflight: {title: Preflight, code: STD}, push_back: {title: Push back, code: PBT}}
limits: {control: {value: 104 kt, label: control speed}}
flows:
  trip_data:
    title: Trip data
    phase: preflight
    captain:
      - speed: ITEM
gates:
  push_back: {phase: push_back, cue: flight.pitch > 1 deg, entry: flight.ground_speed > 1 kt, needs: [flow trip_data]}
"""
TABLES = """\
tables:
  stall: {label: stall, x: kg, y: deg, gives: kt, columns: [1, 5], rows: [[40000, 104, 100], [60000, 128, 122.5]]}
  trim: {label: trim, x: "%", gives: deg, points: [[8, 7.8], [24, 5.2], [36, 3.2]]}
"""
FIGURES = """\
figures:
  minimum_v2: {label: "minimum V2 at {figure.mass}", uses: minimum_v2, with: {stall: figure.stall, control: limit.control}, unit: kt}
  stall: {label: stall speed, uses: table.stall, with: {x: figure.mass, y: trip.takeoff_flap}, unit: kt}
  mass: {label: mass, uses: takeoff_mass, with: {zero_fuel: trip.zero_fuel_mass, fuel: fuel.total + 10 lb, taxi_fuel: 200 kg}, unit: lb, rounded: 20 kg}
  heading: {label: name's heading, uses: runway_heading, with: {runway: trip.runway}, unit: deg}
"""


def loaded(
    tmp_path: Path, figures: str = FIGURES, item: str = "trip.v2 >= figure.minimum_v2", tables: str = TABLES
) -> Pack:
    """A pack with these figures."""
    path = tmp_path / "small.yaml"
    path.write_text(HEAD.replace("ITEM", item) + tables + figures, "utf-8")
    return load_pack(str(path))


def refused(tmp_path: Path, figures: str, tables: str = TABLES) -> str:
    """Faults of these figures, without the file's name."""
    with pytest.raises(InputFaults) as caught:
        loaded(tmp_path, figures, "trip.v2 > 90 kt", tables)
    return re.sub(r"\S*small\.yaml:", "", str(caught.value))


def test_figures_come_after_their_inputs(tmp_path: Path) -> None:
    """A figure becomes a signal of the pack, in its own unit, after those that it reads."""
    pack = loaded(tmp_path)
    assert pack.faults == ()
    assert [figure.signal.name for figure in pack.figures] == [
        "figure.mass",
        "figure.stall",
        "figure.minimum_v2",
        "figure.heading",
    ]
    mass, stall, least, heading = pack.figures
    assert mass.input_signals == ("trip.zero_fuel_mass", "fuel.total")
    assert stall.input_signals == ("figure.mass", "trip.takeoff_flap")
    assert (least.signal.unit, least.signal.label) == ("kt", "minimum V2 at mass")
    assert (heading.signal.kind, heading.input_signals) == (SignalKind.ANGLE, ("trip.runway",))
    assert mass.factor == pytest.approx(1 / 0.45359237)
    assert mass.signal.shown_step == pytest.approx(20 / 0.45359237)
    assert pack.items["flow.trip_data.speed"].signals == ("trip.v2", "figure.minimum_v2")


@pytest.mark.parametrize(
    ("figure", "message"),
    [
        ("uses: minimum_v3, with: {stall: 100 kt}, unit: kt", "unknown function minimum_v3, expected a function of the arithmetic, or table.NAME"),
        ("uses: table.stal, with: {x: 1 kg}, unit: kt", "did you mean table.stall?"),
        ("uses: minimum_v2, with: {stall: 100 kt}, unit: kg", "minimum_v2 is in kt, not kg"),
        ("uses: minimum_v2, with: {stal: 100 kt}, unit: kt", "minimum_v2 does not take stal, expected stall or control"),
        ("uses: minimum_v2, with: {control: 100 kt}, unit: kt", "minimum_v2 needs stall"),
        ("uses: minimum_v2, with: {stall: 100 kg}, unit: kt", "kg does not convert to kt"),
        ("uses: minimum_v2, with: {stall: 100}, unit: kt", "a number without a unit, expected a unit such as kt"),
        ("uses: minimum_v2, with: {stall: trip.v9}, unit: kt", "unknown name trip.v9, expected a value of the trip sheet"),
        ("uses: minimum_v2, with: {stall: figure.stal}, unit: kt", "did you mean figure.stall?"),
        ("uses: minimum_v2, with: {stall: lights.beacon}, unit: kt", "lights.beacon is no number but a switch"),
        ("uses: minimum_v2, with: {stall: 'trip.v2 > 3 kt'}, unit: kt", "'trip.v2 > 3 kt' is not a term"),
        ("uses: minimum_v2, with: {stall: 'trip.v2 +'}, unit: kt", "'trip.v2 +' is not a term"),
        ("uses: minimum_v2, with: {stall: 'highest(trip.v2, 3 s)'}, unit: kt", "a figure cannot use windows or counts"),
        ("uses: minimum_v2, with: {stall: 'count((trip.v2 > 3 kt) happened, 3 s)'}, unit: kt", "a figure cannot use windows or counts"),
        ("uses: minimum_v2, with: {stall: figure.odd}, unit: kt", "circular reference of figures: figure.odd reads figure.odd"),
        ("uses: runway_heading, with: {runway: trip.v2}, unit: deg", "expected a word here"),
        ("uses: minimum_v2, with: {stall: 100 kt}, unit: kt, rounded: 5 kg", "a figure cannot be rounded to this"),
        ("uses: minimum_v2, with: {stall: 100 kt}", "unit is missing"),
        ("uses: minimum_v2, with: {stall: 100 kt}, unit: kt, step: 3", "unknown key step"),
    ],
)  # fmt: skip
def test_invalid_figures_are_refused(tmp_path: Path, figure: str, message: str) -> None:
    """A figure with a wrong function, parameter, unit or name is refused with a hint."""
    text = refused(tmp_path, f"{FIGURES}  odd: {{label: odd, {figure}}}\n")
    assert message in text
    assert text.count("small") == 0
    assert re.match(r"2[01]:\d+: ", text)


def test_label_places(tmp_path: Path) -> None:
    """An unknown placeholder in a label is refused at its place."""
    message = refused(tmp_path, FIGURES.replace("{figure.mass}", "{figure.mas}"))
    assert "unknown signal figure.mas" in message
    assert "did you mean figure.mass?" in message


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("x: kg, gives: kt, points: [[1, 2], [1, 3]]", "a side of a table that does not rise"),
        ("x: kg, gives: kt, points: [[1, 2, 3]]", "a row of the wrong length"),
        ("x: kg, gives: kt, rows: [[1, 2]]", "does not have its values, expected points"),
        ("x: kg, y: deg, gives: kt, points: [[1, 2]]", "does not have its values, expected columns"),
        ("x: kg, y: deg, gives: kt, columns: [1, 2], rows: [[1, 2]]", "a row of the wrong length"),
        ("x: kgs, gives: kt, points: [[1, 2]]", "unknown unit kgs"),
        ("x: kg, gives: kt, steps: [[1, 2], [1, 3]]", "steps that do not rise"),
        ("x: kg, gives: kt, steps: [[1, 2, 3]]", "does not have its values"),
        ("x: kg, gives: kt, steps: [[1, 2]], points: [[1, 2]]", "does not have its values"),
        ("x: kg, y: deg, gives: kt, steps: [[1, 2]]", "does not have its values"),
        ("x: kg, gives: kt, points: []", "points"),
        ("x: kg, gives: kt, points: [[]]", "does not have its values"),
        ("x: kg, gives: kt, points: [[1, .inf]]", "points"),
    ],
)
def test_invalid_tables_are_refused(tmp_path: Path, table: str, message: str) -> None:
    """A table with sides that do not rise, or rows of the wrong length, is refused; its figures add no second fault."""
    text = refused(
        tmp_path,
        "figures: {f: {label: f, uses: table.odd, with: {x: 1 kg}, unit: kt}}\n",
        f"{TABLES}  odd: {{label: odd, {table}}}\n",
    )
    assert message in text
    assert "unknown function" not in text


def test_every_function_documents_its_units() -> None:
    """Each function that a pack may use has a source in its docstring, units that are known, and a sentence that fits it."""
    for recipe in FIGURE_FUNCTIONS.values():
        assert "ource" in (recipe.function.__doc__ or ""), recipe.name
        assert units.is_known(recipe.unit), recipe.name
        assert all(p.unit == TEXT_PARAMETER or units.is_known(p.unit) for p in recipe.parameters.values()), (
            recipe.name
        )
        places = set(re.findall(r"\{(\w+)\}", recipe.explanation))
        assert places <= set(recipe.parameters), recipe.name
        bare = set(re.findall(r"\{(\w+)\}", re.sub(r"\[[^]]*\]", "", recipe.explanation)))
        assert bare <= {name for name, parameter in recipe.parameters.items() if parameter.required}, (
            recipe.name
        )


GUIDE = (Path(__file__).parents[3] / "rules" / "arithmetic" / "README.md").read_text("utf-8")


def test_the_document_lists_every_function() -> None:
    """The guide's table lists each function with all its parameters and their units, and no other."""
    section = GUIDE[GUIDE.index("<!-- generated: functions -->") :]
    listed = dict(
        re.findall(r"^\| `(\w+)` \| (.*) \|.*\|$", section[: section.index("<!-- end -->")], re.MULTILINE)
    )
    assert set(listed) == set(FIGURE_FUNCTIONS)
    for name, function in FIGURE_FUNCTIONS.items():
        units_of = {
            short: "word" if p.unit == TEXT_PARAMETER else p.unit for short, p in function.parameters.items()
        }
        assert dict(re.findall(r"`(\w+)` (\S+?)(?:,| \(|$)", listed[name])) == units_of, name


def test_the_example_of_the_document_loads(tmp_path: Path) -> None:
    """The example in the document on arithmetic loads."""
    example = GUIDE[GUIDE.index("tables:\n  stall_takeoff") :]
    text = example[: example.index("flows:\n")]
    path = tmp_path / "small.yaml"
    head = HEAD.replace("control:", "control_speed:").replace("ITEM", "trip.v2 >= figure.minimum_v2")
    path.write_text(head + text, "utf-8")
    assert [f.signal.name for f in load_pack(str(path)).figures][-1] == "figure.minimum_v2"
