"""The take-off roll against the acceleration that thrust and mass should give: too little gives a notice before 80 kt.

Each roll is flown by the mock from the line-up on, with a wrong aeroplane, instrument or trip sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import pytest

from mock_sim.common.mock_aeroplane import MockAeroplane
from mock_sim.run import Flight, FlightCheckpoint
from rules.judge.events import Finding, FindingOpened, Notice, TraceRecorded, Verdict
from rules.judge.judge import Judge
from rules.signals.model import Frame, Quality, Sample, Value
from tests.shipped import shipped

RATE_HZ = 5.0
SEEDS = (1, 2)
ROLL = "flow.takeoff_roll."
ACCELERATION = ROLL + "acceleration"


@dataclass
class Roll:
    """One roll to 100 kt: findings, notices, and the speed at each finding."""

    findings: list[Finding]
    speeds_kt: dict[str, float]
    notice_sentences: list[str]
    judge: Judge

    @property
    def found(self) -> list[str]:
        """Items of the roll that were found, in order; earlier ones are left out."""
        return [finding.item for finding in self.findings if finding.item.startswith(ROLL)]


@cache
def fly_to_line_up(seed: int) -> tuple[FlightCheckpoint, tuple[str, ...]]:
    """The sector before the line-up is cleared, and the calls so far."""
    flight = Flight("sector", seed=seed, rate_hz=RATE_HZ)
    calls, known, checkpoint = list[str](), tuple[str, ...](), flight.checkpoint()
    for moment in flight:
        calls_now = [call.name for call in moment.calls]
        if "lineup_clearance" in calls_now:
            return checkpoint, known
        if moment.sim_s % 60.0 == 0.0:
            checkpoint, known = flight.checkpoint(), tuple(calls)
        calls += calls_now
    raise AssertionError("the crew never lined up")


def fly_roll(
    change: Callable[[MockAeroplane], None] | None = None,
    *,
    shown: Mapping[str, Value] | None = None,
    sheet: Mapping[str, Value] | None = None,
    sheet_file: str = "trip_demo.yaml",
    seed: int = 1,
) -> Roll:
    """Fly from before the line-up to 100 kt.

    Args:
        change: Changes the aeroplane after each step.
        shown: Signals that the instruments show wrongly.
        sheet: Trip values that replace those of the file.
        sheet_file: File of the trip sheet in the pack.
        seed: Seed of the flight.
    """
    checkpoint, calls = fly_to_line_up(seed)
    flight = Flight("sector", seed=seed, rate_hz=RATE_HZ).resume_from(checkpoint)
    judge = Judge(*shipped("twin_jet", sheet_file))
    judge.update_trip(sheet or {})
    for call in calls:
        judge.enter_call(call)
    roll = Roll([], {}, [], judge)
    before: dict[str, Value] = {}
    for moment in flight:
        state = moment.state | dict(shown or {})
        changes = [
            Sample(n, v, Quality.FRESH, moment.sim_s)
            for n, v in state.items()
            if n not in before or before[n] != v
        ]
        before = state
        calls_now = tuple(call.name for call in moment.calls)
        for entry in judge.judge_frame(
            Frame("test", moment.sim_s, moment.sim_s, 0, tuple(state), changes, calls_now)
        ):
            match entry:
                case FindingOpened(finding=finding):
                    roll.findings.append(finding)
                    roll.speeds_kt.setdefault(finding.item, float(moment.state["airspeed.captain"]))
                case Notice():
                    roll.notice_sentences.append(entry.sentence)
        if float(moment.state["airspeed.captain"]) > 100.0:
            return roll
        if change is not None:
            change(flight.aeroplane)
    raise AssertionError("the aeroplane never reached 100 kt")


def limit_thrust_levers(aeroplane: MockAeroplane, low: float) -> None:
    """Limit the thrust levers to a position."""
    for k in "12":
        if float(aeroplane.get(f"engine.{k}.thrust_lever")) > low:
            aeroplane.set(f"engine.{k}.thrust_lever", low)


def drag_brakes(aeroplane: MockAeroplane, pedal: float) -> None:
    """Both brakes drag once it rolls at take-off thrust."""
    if float(aeroplane.get("engine.1.n1")) > 80.0:
        for side in ("left", "right"):
            aeroplane.set(f"gear.brake_pedal.{side}", pedal)


AT_REST: dict[str, Value] = {"gear.brake_pedal.left": 0.0, "gear.brake_pedal.right": 0.0}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_good_roll_gets_no_notice(seed: int) -> None:
    """A roll with the thrust, mass and brakes of the sheet gives no finding, whatever the seed."""
    roll = fly_roll(seed=seed)
    assert roll.found == []
    assert not any("ground speed" in sentence or "N1" in sentence for sentence in roll.notice_sentences)


def test_thrust_below_the_sheet_is_reported_as_thrust_and_as_acceleration() -> None:
    """At 83 % N1 where the sheet has 92.4 %, both engines and the acceleration are found before 80 kt."""
    roll = fly_roll(lambda aeroplane: limit_thrust_levers(aeroplane, 77.0))
    assert set(roll.found) == {ROLL + "thrust.1", ROLL + "thrust.2", ACCELERATION}
    assert max(roll.speeds_kt.values()) < 80.0


def test_the_sentence_names_the_expected_acceleration() -> None:
    """The crew hears of a slow acceleration; the record names it, what is needed, the mass and N1."""
    roll = fly_roll(lambda aeroplane: limit_thrust_levers(aeroplane, 77.0))
    assert any("low acceleration" in sentence for sentence in roll.notice_sentences)
    sentence = next(f.sentence for f in roll.findings if f.item == ACCELERATION)
    assert "kt/s" in sentence
    assert "kg" in sentence
    assert "N1" in sentence


def test_brakes_that_drag_are_reported_before_80_kt() -> None:
    """A sixth of full braking with the pedals at rest: nothing else shows it."""
    roll = fly_roll(lambda aeroplane: drag_brakes(aeroplane, 20.0), shown=AT_REST)
    assert roll.found == [ACCELERATION]
    assert roll.speeds_kt[ACCELERATION] < 80.0


def test_a_load_missing_from_the_sheet_is_reported_before_80_kt() -> None:
    """The sheet has the zero-fuel mass a fifth of the take-off mass too low (the size of a 100 t slip of a wide-body)."""
    roll = fly_roll(lambda aeroplane: aeroplane.set("load.zero_fuel_mass", 61000.0))
    assert roll.found == [ACCELERATION]
    assert roll.speeds_kt[ACCELERATION] < 80.0


def test_a_plan_for_a_lighter_aeroplane_is_reported_before_80_kt() -> None:
    """46 600 kg for 56 600 kg on the sheet, with the thrust that belongs to it, set as the sheet says."""
    sheet: dict[str, Value] = {"trip.takeoff_mass": 46600.0, "trip.takeoff_thrust": 86.0}
    shown: dict[str, Value] = {"autoflight.takeoff_thrust": 86.0, "management.takeoff_mass": 46600.0}
    roll = fly_roll(lambda aeroplane: limit_thrust_levers(aeroplane, 81.0), sheet=sheet, shown=shown)
    assert ACCELERATION in roll.found
    assert roll.speeds_kt[ACCELERATION] < 80.0


def test_thrust_of_another_day_is_reported_before_80_kt() -> None:
    """82.4 % on the sheet and set, as at -52 degrees, where the day has 6 and asks for 92.4 %."""
    sheet: dict[str, Value] = {"trip.takeoff_thrust": 82.4}
    shown: dict[str, Value] = {"autoflight.takeoff_thrust": 82.4}
    roll = fly_roll(lambda aeroplane: limit_thrust_levers(aeroplane, 76.5), sheet=sheet, shown=shown)
    assert {ROLL + "thrust.1", ROLL + "thrust.2"} <= set(roll.found)
    assert max(roll.speeds_kt[ROLL + f"thrust.{k}"] for k in "12") < 80.0


def test_reduced_thrust_of_the_sheet_is_no_error() -> None:
    """With 88 % on the sheet and 88 % set, neither thrust nor acceleration is found."""
    sheet: dict[str, Value] = {"trip.takeoff_thrust": 88.0}
    shown: dict[str, Value] = {"autoflight.takeoff_thrust": 88.0}
    roll = fly_roll(lambda aeroplane: limit_thrust_levers(aeroplane, 83.6), sheet=sheet, shown=shown)
    assert [item for item in roll.found if item.startswith(ROLL)] == []


def test_without_masses_on_the_sheet_the_roll_has_no_data() -> None:
    """Without mass and thrust on the sheet there is no data, and no notice even where the brakes drag."""
    roll = fly_roll(
        lambda aeroplane: drag_brakes(aeroplane, 20.0), shown=AT_REST, sheet_file="trip_stock.yaml"
    )
    assert ACCELERATION not in roll.found
    assert roll.judge.snapshot().items[ACCELERATION].verdict is Verdict.UNKNOWN


def test_the_trace_of_the_roll_has_its_findings() -> None:
    """The trace of the roll runs from the thrust and has the numbers of its findings."""
    roll = fly_roll(lambda aeroplane: drag_brakes(aeroplane, 20.0), shown=AT_REST)
    (trace,) = [trace for trace in roll.judge.snapshot().traces if trace.id == "trace.takeoff_roll"]
    assert trace.times_s[-1] - trace.began_s > 10.0
    recorded = [
        e
        for e in roll.judge.judge_frame(Frame("test", 1.0, 9e5, 1, (), (), ()))
        if isinstance(e, TraceRecorded)
    ]
    (number,) = [finding.number for finding in roll.findings if finding.item == ACCELERATION]
    assert [(e.trace, e.findings) for e in recorded] == [("trace.takeoff_roll", (number,))]
