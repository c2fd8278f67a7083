"""Figures in flight: they follow their inputs, are unknown with them, are explained, and find wrong trip values."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from mock_sim.run import Flight
from rules.judge.events import Finding, FindingOpened
from rules.judge.figures import FigureEvaluator
from rules.judge.judge import Judge
from rules.packs.load_pack import load_pack
from rules.packs.model import Figure, OwnSentences, Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from rules.signals.model import Frame, Quality, Sample, Value
from rules.signals.state import SignalState

DEMO = Path(__file__).parents[3] / "rules" / "packs" / "data" / "twin_jet" / "trip_demo.yaml"
CUE_S = 316.0
"""A moment of the clean flight with all values of the trip sheet entered, shortly before the push back is cued."""


@pytest.fixture(scope="module")
def trip() -> TripSheet:
    """The shipped sheet."""
    return load_trip_sheet(DEMO)


@pytest.fixture(scope="module")
def pack(trip: TripSheet) -> Pack:
    """The twin jet."""
    return load_pack("twin_jet", trip=trip)


@pytest.fixture(scope="module")
def parked() -> dict[str, Value]:
    """Every signal of the clean flight just before the push back."""
    state: dict[str, Value] = {}
    for moment in Flight("departure", [], seed=1, rate_hz=2):
        if moment.sim_s > CUE_S:
            break
        state = {n: float(v) if isinstance(v, int | float) else v for n, v in moment.state.items()}
    # The APU has burned some kilograms by now; with the block fuel of the sheet the masses below are round numbers.
    return {**state, "fuel.total": 8200.0}


def frame(values: Mapping[str, Value], sim_s: float, calls: tuple[str, ...] = ()) -> Frame:
    """One frame with these values."""
    samples = [Sample(name, value, Quality.FRESH, sim_s) for name, value in values.items()]
    return Frame("test", sim_s, sim_s, 0, tuple(values), samples, calls)


def with_sheet(trip: TripSheet, **values: Value | None) -> TripSheet:
    """The sheet with other values; None removes one."""
    given = {f"trip.{name}": value for name, value in values.items() if value is not None}
    changed = {**trip.values, **given}
    missing = {f"trip.{name}" for name, value in values.items() if value is None}
    return TripSheet(trip.title, {name: value for name, value in changed.items() if name not in missing})


def findings(pack: Pack, trip: TripSheet, state: Mapping[str, Value]) -> dict[str, Finding]:
    """Findings of a push back that is cued and held for a while; by the item's key."""
    judge = Judge(pack, trip)
    entries = judge.judge_frame(frame(state, 0.0))
    for second in range(1, 8):
        calls = {1: ("atc_clearance",), 4: ("before_start_checklist",)}.get(second, ())
        entries += judge.judge_frame(frame(state, float(second), calls))
    opened = [entry.finding for entry in entries if isinstance(entry, FindingOpened)]
    return {finding.item.rpartition(".")[2]: finding for finding in opened if finding.gate == "push_back"}


def agreeing(state: Mapping[str, Value], trip: TripSheet) -> dict[str, Value]:
    """The state with all values entered from this sheet."""
    entered = {
        "management.runway": "runway",
        "management.zero_fuel_mass": "zero_fuel_mass",
        "management.takeoff_mass": "takeoff_mass",
        "management.centre_of_gravity": "centre_of_gravity",
        "management.outside_temperature": "outside_air_temperature",
        "management.reserve_fuel": "reserve_fuel",
        "management.takeoff_flap": "takeoff_flap",
        "autoflight.takeoff_thrust": "takeoff_thrust",
        "autoflight.speed": "first_speed",
        **{f"speeds.{v}.{seat}": v for v in ("v1", "vr", "v2") for seat in ("captain", "first_officer")},
    }
    dialled = {
        name: trip.values[f"trip.{key}"] for name, key in entered.items() if f"trip.{key}" in trip.values
    }
    return {**state, **dialled}


def test_the_right_trip_values_give_nothing(pack: Pack, trip: TripSheet, parked: dict[str, Value]) -> None:
    """With the right trip values nothing is found before the push back."""
    found = findings(pack, trip, agreeing(parked, trip)).values()
    assert [f for f in found if f.item.startswith(("flow.plausibility.", "flow.panel_entries."))] == []


# Each wrong paper is laid over the right one: sheet, aeroplane, the item that tells it and words of its finding.
WRONG = {
    "C1 speeds and thrust of another leg's mass (TSB A04H0004)": (
        {"takeoff_mass": 38500.0, "landing_mass": 36600.0, "v1": 106.0, "vr": 109.0, "v2": 114.0, "first_speed": 114.0, "takeoff_thrust": 84.0},
        {},
        {
            "landing_mass": "sheet landing mass 36 600 kg",
            "actual_mass": "sheet take-off mass 38 500 kg, needs 56 600 kg (take-off mass with the fuel on board: sheet zero-fuel mass 48 600 kg plus fuel on board ",
            "v2_holds": "sheet V2 114 kt, needs at least 134 kt (minimum V2 at 56 600 kg: 1.13 times stall speed 119 kt, 1.10 times minimum control speed 104 kt)",
            "vr_holds": "VR of the type: for take-off mass with the fuel on board 56 600 kg and sheet take-off flap 8 deg",
            "v1_holds": "sheet V1 106 kt, needs 128 kt (V1 of the type: ",
            "thrust_holds": "sheet take-off thrust 84 %, needs at least 86.4 % (full take-off N1: for outside air temperature 6",
        },
    ),
    "C3 one digit of the mass mistyped (ATSB AO-2009-012)": (
        {"takeoff_mass": 46600.0},
        {},
        {"actual_mass": "4 typed for 5?"},
    ),
    "C5 thrust of a temperature that was not there (AAIB AAR 2/2018)": (
        {"outside_air_temperature": -52.0, "takeoff_thrust": 82.4},
        {},
        {
            "temperature_holds": "planned outside temperature -52 degC, needs 6",
            "thrust_holds": "sheet take-off thrust 82.4 %, needs at least 86.4 %",
        },
    ),
    "E1 pounds for kilograms in plan and tanks (board of inquiry, 1983)": (
        {"block_fuel": 3719.5, "takeoff_mass": 52119.5, "fuel_left": 1400.0, "fuel_right": 1400.0, "fuel_centre": 919.5, "landing_mass": 50219.5, "v1": 122.0, "vr": 126.0, "v2": 132.0, "first_speed": 132.0},
        {"loading.mass": 52319.5, "fuel.total": 3719.5, "fuel.tank.left": 1400.0, "fuel.tank.right": 1400.0, "fuel.tank.centre": 919.5},
        {
            "fuel_adds_up": "kilograms entered as pounds?",
            "fuel_slip": "fuel by the fuel slip: sheet fuel before filling 2 980 kg plus sheet uplift 6 500 l",
            "reserves": "sheet block fuel 3 720 kg, needs at least ",
        },
    ),
    "E3 the fuel was enough for the trip only (GRIAA COL-16-37-GIA)": (
        {"trip_fuel": 8000.0, "contingency_fuel": 0.0, "alternate_fuel": 0.0, "final_reserve_fuel": 0.0, "extra_fuel": 0.0, "reserve_fuel": 0.0, "landing_mass": 48600.0},
        {},
        {"reserves": "(30 min of holding: holding flow "},
    ),
    "B8 V1 a tenth too low (MAK report, accident of 7 September 2011)": (
        {"v1": 116.0},
        {},
        {"v1_holds": "sheet V1 116 kt, needs 128 kt (V1 of the type: for take-off mass with the fuel on board 56 600 kg"},
    ),
    "trim of another centre of gravity": ({"stabiliser_trim": 3.9}, {}, {"trim_holds": "trim of the type: for sheet centre of gravity 24.1 %"}),
    "load of another flight": ({"load": 9400.0}, {}, {"mass_adds_up": "sheet empty mass 34 200 kg plus sheet load 9 400 kg"}),
    "runway too short": ({"runway_length": 1500.0}, {}, {"runway_long_enough": "runway that is needed: 115 % of take-off distance"}),
    "runway and heading apart (NTSB/AAR-07/05)": ({"runway_heading": 183.0}, {}, {"runway_named": "heading of the runway's name: 14"}),
    "wind beyond the limits": ({"wind_direction": 53.0, "wind_speed": 34.0}, {}, {"wind_limits": "needs at most 33 kt (crosswind limit)"}),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_trip_value_is_reported_though_the_panel_agrees(
    pack: Pack, trip: TripSheet, parked: dict[str, Value], case: str
) -> None:
    """A wrong trip value that was entered gives its findings, which name the calculation, and no other."""
    sheet, aeroplane, wanted = WRONG[case]
    wrong = with_sheet(trip, **sheet)
    found = findings(pack, wrong, agreeing({**parked, **aeroplane}, wrong))
    plausible = {
        key: finding for key, finding in found.items() if finding.item.startswith("flow.plausibility.")
    }
    assert set(plausible) == set(wanted)
    for key, words in wanted.items():
        assert words in plausible[key].sentence


def test_missing_trip_values_give_no_finding(pack: Pack, trip: TripSheet, parked: dict[str, Value]) -> None:
    """A missing trip value cannot be checked, and gives no finding."""
    little = TripSheet(
        "little", {n: v for n, v in trip.values.items() if n in {"trip.v1", "trip.vr", "trip.v2"}}
    )
    found = findings(pack, little, parked)
    assert not [finding for finding in found.values() if finding.item.startswith("flow.plausibility.")]


# -- by themselves ----------------------------------------------------------------------------------


class Bench:
    """A state with the twin jet's figures, fed value by value."""

    def __init__(self, pack: Pack, trip: TripSheet) -> None:
        """Set the trip values and compute the figures."""
        self.state = SignalState(pack.signals)
        self.figures = FigureEvaluator(pack, self.state)
        for name, value in trip.values.items():
            self.state.set_value(name, value, 0.0)
        self.first_samples = self.figures.evaluate_all()

    def put(self, name: str, value: Value) -> list[Sample]:
        """Fold one value in, and compute the figures that follow from it."""
        return self.figures.update(self.state.set_value(name, value, self.state.sim_s + 1.0))


@pytest.fixture
def bench(pack: Pack, trip: TripSheet) -> Bench:
    """A bench with the shipped sheet."""
    return Bench(pack, trip)


def test_only_figures_that_read_a_changed_signal_are_computed(pack: Pack, trip: TripSheet) -> None:
    """A change computes the figures that read the signal, once each, and no other."""
    worked: list[str] = []

    def noted(figure: Figure) -> Figure:
        """The figure, with a function of the same arguments that notes its calls."""

        @functools.wraps(figure.function)
        def function(*arguments: Value) -> float:
            worked.append(figure.signal.name)
            return figure.function(*arguments)

        return replace(figure, function=function)

    bench = Bench(replace(pack, figures=tuple(map(noted, pack.figures))), trip)
    worked.clear()
    assert bench.put("flight.pitch", 2.0) == []
    assert worked == []
    changed = [sample.name for sample in bench.put("fuel.total", 8200.0)]
    assert len(worked) == len(set(worked))
    assert set(changed) <= set(worked)
    assert (
        changed.index("figure.takeoff_mass")
        < changed.index("figure.stall_takeoff")
        < changed.index("figure.minimum_v2")
    )
    assert "figure.zero_fuel_mass" not in worked


def test_rounding_is_for_texts_alone(bench: Bench) -> None:
    """A figure that is shown in steps of 20 kg is judged as it is, and so are the figures that read it."""
    bench.put("fuel.total", 8200.0)
    stall_kt = bench.state.values["figure.stall_takeoff"]
    bench.put("fuel.total", 8209.0)
    assert bench.state.values["figure.takeoff_mass"] == 56609.0
    assert bench.state.values["figure.stall_takeoff"] != stall_kt
    assert bench.figures.name(bench.state.signals["figure.minimum_v2"]) == "minimum V2 at 56 600 kg"


@pytest.mark.parametrize(
    ("left_kg", "shown"),
    [
        (3611.0, "fuel imbalance 510 kg, limit 500 kg: left 3 611 kg, right 3 100 kg"),
        (3602.0, "fuel imbalance 502 kg, limit 500 kg: left 3 602 kg, right 3 100 kg"),
    ],
)
def test_steps_never_hide_what_was_judged(
    pack: Pack, trip: TripSheet, parked: dict[str, Value], left_kg: float, shown: str
) -> None:
    """2 kg over the limit is over it, and the text does not say that 500 kg is more than 500 kg."""
    judge = Judge(pack, trip)
    judge.judge_frame(frame({**parked, "fuel.tank.left": left_kg, "fuel.tank.right": 3100.0}, 0.0))
    assert judge.explained_snapshot().watches["watch.fuel_imbalance"].sentence.startswith(shown)


def test_values(bench: Bench) -> None:
    """The figures are the arithmetic of their inputs."""
    bench.put("fuel.total", 8200.0)
    bench.put("flight.outside_air_temperature", 6.0)
    values = bench.state.values
    assert values["figure.takeoff_mass"] == 56600.0
    assert values["figure.fuel_sum"] == 8200.0
    assert values["figure.full_n1"] == pytest.approx(92.4)
    assert values["figure.takeoff_trim"] == pytest.approx(5.2)
    assert values["figure.runway_heading"] == 140.0
    # 5 min of holding at the landing mass of 54 700 kg, which is more than 5 % of the trip.
    assert values["figure.contingency"] == pytest.approx(2204.5 / 12)


def test_unknown_inputs_make_unknown_figures(bench: Bench) -> None:
    """Without an input a figure is absent; with a stale one it is invalid, and the reason names the input."""
    pack_signals = bench.state.signals
    assert "figure.takeoff_mass" not in bench.state.values
    assert bench.state.sample("figure.takeoff_mass").quality is Quality.ABSENT
    least = pack_signals["figure.minimum_v2"]
    assert [signal.name for signal in bench.figures.sources(least)] == ["fuel.total"]
    bench.put("fuel.total", 8200.0)
    assert bench.figures.sources(least) == (least,)
    late = bench.state.expire(100.0)
    lost = bench.figures.update(late)
    assert {sample.quality for sample in lost} == {Quality.INVALID}
    assert bench.state.sample("figure.minimum_v2").quality is Quality.INVALID
    assert [signal.name for signal in bench.figures.sources(least)] == ["fuel.total"]


def test_the_name_of_a_figure_with_impossible_inputs_has_the_reason(bench: Bench) -> None:
    """Where the function refuses its inputs the figure is invalid, and its name has the reason."""
    bench.put("fuel.total", 30000.0)
    stall = bench.state.signals["figure.stall_takeoff"]
    assert bench.state.sample(stall.name).quality is Quality.INVALID
    assert bench.figures.name(stall) == "stall speed (value of 78400, expected 36000 to 68000)"


def test_a_figure_has_its_label_and_calculation(bench: Bench) -> None:
    """A figure has its label with placeholders filled in, and its calculation; other signals only their label."""
    bench.put("fuel.total", 8200.0)
    least, beacon = bench.state.signals["figure.minimum_v2"], bench.state.signals["lights.beacon"]
    assert bench.figures.name(least) == "minimum V2 at 56 600 kg"
    assert bench.figures.calculation(least) == (
        "1.13 times stall speed 119 kt, 1.10 times minimum control speed 104 kt"
    )
    assert (bench.figures.name(beacon), bench.figures.calculation(beacon)) == ("beacon", "")


def test_figures_are_computed_again_after_a_reset(bench: Bench) -> None:
    """After a reset signals are unknown until they are sent again, while trip values stay."""
    bench.put("fuel.total", 8200.0)
    bench.state.restart(1)
    bench.figures.evaluate_all()
    assert "figure.takeoff_mass" not in bench.state.values
    assert bench.state.values["figure.fuel_sum"] == 8200.0


def test_new_trip_values_are_followed(pack: Pack, trip: TripSheet, parked: dict[str, Value]) -> None:
    """A new trip value changes the figures that read it."""
    judge = Judge(pack, trip)
    judge.judge_frame(frame(parked, 0.0))
    before = judge.snapshot().samples["figure.v1"].value
    judge.update_trip({"trip.takeoff_flap": 20.0})
    after = judge.snapshot().samples["figure.v1"].value
    assert isinstance(before, float) and isinstance(after, float)  # noqa: PT018 - for the types
    assert after < before


def test_the_reason_of_an_exceeded_figure_shows_its_calculation(
    pack: Pack, trip: TripSheet, parked: dict[str, Value]
) -> None:
    """A figure over its limit is explained with its numbers; while the limit holds the sentence is short."""
    limits = "flow.plausibility.mass_limits"
    general = {**pack.items, limits: replace(pack.items[limits], say=OwnSentences())}
    judge = Judge(replace(pack, items=general), trip)
    judge.judge_frame(frame(parked, 0.0))
    assert "(" not in judge.explained_snapshot().items[limits].sentence.split(",")[0]
    judge.judge_frame(frame({**parked, "fuel.total": 15000.0}, 1.0))
    assert judge.explained_snapshot().items[limits].sentence == (
        "landing mass with the fuel on board 61 500 kg (take-off mass with the fuel on board 63 400 kg"
        " less sheet trip fuel 1 900 kg), needs at most 56 000 kg"
    )
