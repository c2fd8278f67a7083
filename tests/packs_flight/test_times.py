"""Out, off, on and in of flights of the mock aeroplane."""

from __future__ import annotations

import pytest

from rules.judge.events import FlightTimeRecorded
from rules.judge.judge import Judge
from rules.packs.model import OooiMoment
from tests.mock_sim.sector import clean_flight as mock
from tests.packs_flight.recorded_sector import CleanSector, JudgedFlight, Moment


def recorded_times(judged: JudgedFlight) -> list[FlightTimeRecorded]:
    """Flight times so far."""
    return [entry for entry in judged.entries if isinstance(entry, FlightTimeRecorded)]


def flown(clean: CleanSector, event: str, before: str) -> list[FlightTimeRecorded]:
    """Flight times of a sector with an event, the same as a clean one until shortly before a step."""
    judged, checkpoint = (
        JudgedFlight(Judge(clean.pack, clean.trip)),
        mock.clean_flight().checkpoint_before(before),
    )
    begin = [moment for moment in mock.clean_flight().moments if moment.sim_s < checkpoint.sim_s]
    for moment in [*begin, *mock.new_flight(events=[event]).resume_from(checkpoint)]:
        state = {k: v if isinstance(v, str) else float(v) for k, v in moment.state.items()}
        judged.send(moment.sim_s, state, [call.name for call in moment.calls])
    return recorded_times(judged)


def test_the_sector_has_its_four_times(clean: CleanSector) -> None:
    """Each time is that of the aeroplane's movement, and block and flight time are the durations between them."""
    out, off, landed, into = recorded_times(clean.judged)
    assert [n.moment for n in (out, off, landed, into)] == list(OooiMoment)
    states = [moment.state for moment in clean.moments]
    assert out.at_s == pytest.approx(clean.judged.entered_s("push_back"), abs=5.0)
    air = [m.sim_s for m in clean.moments if m.state["flight.on_ground"] == "no"]
    assert (off.at_s, landed.at_s) == (air[0], air[-1] + 1.0)
    assert into.at_s == pytest.approx(clean.judged.entered_s("parked") - 10.0, abs=2.0)
    assert into.block_s == pytest.approx(into.at_s - out.at_s, abs=1.0)
    assert into.flight_s == pytest.approx(landed.at_s - off.at_s, abs=1.0)
    assert out.utc_s == pytest.approx(float(states[0]["clock.utc"]) + out.at_s, abs=1.0)


def test_a_return_to_the_stand_has_no_flight(clean: CleanSector) -> None:
    """Out and in of the flight that was broken off stay recorded, with a block time."""
    found = flown(clean, "return_to_stand", "captain.taxi_straight")
    assert [n.moment for n in found] == [OooiMoment.OUT, OooiMoment.IN]
    assert found[-1].flight_s is None
    assert found[-1].block_s == pytest.approx(found[1].at_s - found[0].at_s, abs=1.0)


def pushed(begin: list[Moment], by_s: float) -> list[Moment]:
    """The begin of a flight until the engines are about to start: pushed without a tug, stopped twice with the brake set."""
    engines_s = next(
        m.sim_s for m in begin if float(m.state["engine.1.n2"]) + float(m.state["engine.2.n2"]) > 1.0
    )
    rolls = [m.sim_s for m in begin if float(m.state["flight.ground_speed"]) > 0.5 and m.sim_s < engines_s]
    middle_s = (rolls[0] + rolls[-1]) / 2
    moments = []
    for moment in begin:
        stopped = abs(moment.sim_s - middle_s) < 4.0 or moment.sim_s > engines_s - 4.0
        state = {
            k: v
            for k, v in moment.state.items()
            if k not in ("gear.tug", "engine.1.start_valve", "engine.2.start_valve")
        }
        state |= {"flight.ground_speed": 0.0, "gear.parking_brake": "set"} if stopped else {}
        moments.append(Moment(moment.sim_s + by_s, state, ()))
    return moments


def test_a_stop_in_the_push_back_is_no_return(clean: CleanSector) -> None:
    """Without calls and a tug the phase is still before the start: the brake that is set ends no block time."""
    engines_s = next(m.sim_s for m in clean.moments if float(m.state["engine.1.n2"]) > 1.0)
    judged = JudgedFlight(Judge(clean.pack, clean.trip, calls_entered=False))
    judged.play(pushed(clean.between(0, engines_s), 0.0))
    judged.play([m._replace(calls=()) for m in clean.between(engines_s + 1, 1e9)])
    assert [(n.moment, n.sector) for n in recorded_times(judged)] == [(moment, 1) for moment in OooiMoment]
    found = recorded_times(judged)
    assert found[-1].block_s == pytest.approx(recorded_times(clean.judged)[-1].block_s, abs=5.0)
    # The second sector begins with a push back too, and its engines ran before.
    judged.play(pushed(clean.between(0, engines_s), clean.moments[-1].sim_s + 60.0))
    assert [(n.moment, n.sector) for n in recorded_times(judged)[4:]] == [(OooiMoment.OUT, 2)]


def test_a_go_around_lands_once(clean: CleanSector) -> None:
    """An approach that is broken off is no landing."""
    assert [n.moment for n in flown(clean, "go_around", "captain.final_speed")] == list(OooiMoment)


def test_the_second_sector_has_its_own_times(clean: CleanSector) -> None:
    """Its times are those of a second flight."""
    found = flown(clean, "second_sector", "first_officer.shutdown")
    assert [(n.moment, n.sector) for n in found[:4]] == [(moment, 1) for moment in OooiMoment]
    assert (found[4].moment, found[4].sector) == (OooiMoment.OUT, 2)
