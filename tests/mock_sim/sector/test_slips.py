"""Tests of the sector's slips: each makes its change, is corrected where it should be, and leaves no seat waiting."""

from __future__ import annotations

from functools import cache

import pytest

from mock_sim.run import Flight
from mock_sim.scenario import Slip
from tests.mock_sim.sector.clean_flight import clean_flight, new_flight
from tests.mock_sim.whole_flight import fly_to_end

DEPARTURE = {slip.id for slip in Flight("departure").scenario.slips}
OWN = [slip for slip in new_flight().scenario.slips if slip.id not in DEPARTURE]


@cache
def catalogue() -> dict[str, Slip]:
    """The slips of this scenario that the departure does not have."""
    return {slip.id: slip for slip in OWN}


def resume_before(slip: Slip, slips: list[str]) -> Flight:
    """A flight that goes on from shortly before the slip's step, with some slips in it."""
    moved = [step for step in (slip.step, slip.change.before) if step is not None]
    return new_flight(slips).resume_from(
        clean_flight().checkpoint_before(*(f"{slip.seat}.{step}" for step in moved))
    )


@pytest.mark.parametrize("name", sorted(slip.id for slip in OWN))
def test_each_slip_changes_its_signals(name: str) -> None:
    """Each signal of the slip differs from the clean flight, and the slip is recorded once with its seat."""
    slip = catalogue()[name]
    same, wrong = set(slip.signals), resume_before(slip, [name])
    for right, moment in zip(resume_before(slip, []), wrong, strict=False):
        same -= {signal for signal in same if right.state[signal] != moment.state[signal]}
        if not same and wrong.slip_records():
            break
    assert same == set()
    assert [(record.id, record.seat) for record in wrong.slip_records()] == [(name, slip.seat)]


@pytest.mark.parametrize("name", sorted(slip.id for slip in OWN if slip.corrected_after_s is not None))
def test_a_correction_sets_each_control_right(name: str) -> None:
    """The record has the time of the correction, and in the next moment each control of the slip is right."""
    slip = catalogue()[name]
    flight = resume_before(slip, [name])
    step = clean_flight().scenario.step(slip.seat, slip.step)
    assert step is not None
    right = slip.corrected_by or {**step.settings, **{move.signal: move.to for move in step.move}}
    for moment in flight:
        records = flight.slip_records()
        # A correction in the very second of a moment is in the state of the next one.
        if records and records[0].corrected_s is not None and records[0].corrected_s < moment.sim_s:
            read = {control: moment.state[control] for control in right}
            assert read == {control: flight.scenario.value(to) for control, to in right.items()}
            assert records[0].corrected_s >= records[0].sim_s + (slip.corrected_after_s or 0.0)
            return
    raise AssertionError("never corrected")


def test_the_catalogue_is_wide() -> None:
    """At least fourteen slips of all kinds; some of the demonstration's are corrected and some are not."""
    assert len(OWN) >= 14
    assert len({slip.kind for slip in OWN}) == 5
    known = {slip.id: slip for slip in clean_flight().scenario.slips}
    corrected = [known[name].corrected_after_s is not None for name in clean_flight().scenario.demo]
    assert 4 <= sum(corrected) <= len(corrected) - 4


def test_a_crew_that_does_everything_wrong_still_gets_home() -> None:
    """In a flight with all slips from the take-off on, no seat waits without end, and all slips are made."""
    names = [slip.id for slip in OWN]
    flight = new_flight(names).resume_from(clean_flight().checkpoint_before("captain.takeoff_thrust"))
    assert {slip.id for slip in fly_to_end(flight)} == set(names)
