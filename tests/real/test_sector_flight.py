"""Tests on one whole twin-jet sector in the library's flight mechanics, engines off to engines off."""

from __future__ import annotations

from itertools import pairwise

import pytest

from rules.judge.events import GateEntered, Notice, Verdict
from rules.signals.book import load_books
from tests.real.sector_flight import SectorFlight, fly, number

pytestmark = [pytest.mark.real, pytest.mark.timeout(600)]

PHASES = [
    "power_up", "before_start", "push_back", "engine_start", "after_start", "before_taxi", "taxi", "line_up", "takeoff",
    "high_speed", "rotation", "initial_climb", "climb", "high_climb", "cruise", "descent", "approach", "final",
    "short_final", "landing", "taxi_in", "parked", "shutdown", "secure", "dark",
]  # fmt: skip

CAUGHT = {
    "left_aft_pump_off": "flow.before_start.pump_left_aft",
    "v2_differs": "flow.panel_entries.v2_first_officer",
    "thrust_uneven": "flow.takeoff_roll.thrust.2",
    "gear_left_down": "flow.initial_climb.gear_up",
    "fast_below_10000": "watch.low_level_speed",
    "standard_missed": "watch.standard_at_transition_first_officer",
    "landing_elevation_wrong": "flow.descent_preparation.arrival_elevation",
    "qnh_differs": "flow.approach.qnh_first_officer",
    "spoilers_not_armed": "flow.landing_configuration.landing_spoilers",
    "fast_on_final": "flow.stabilised_500.speed_high",
    "flaps_left_out": "watch.flaps_while_taxiing_in",
}
"""Where each slip of the scenario's demo is found."""
SOON_S = 300.0


@pytest.fixture(scope="module")
def correct_flight(library: None) -> SectorFlight:  # noqa: ARG001 - it must be here
    """Fly the correct flight once."""
    return fly()


def test_every_phase_comes_once_and_in_order(correct_flight: SectorFlight) -> None:
    """From power-up to power-off no phase is skipped and none comes twice."""
    assert correct_flight.judged.phases == PHASES


def test_a_correct_flight_gets_no_notice(correct_flight: SectorFlight) -> None:
    """There is no finding and no notice of any level, with the library's numbers from first frame to last."""
    assert [finding.sentence for finding in correct_flight.judged.judge.findings] == []
    assert [entry.sentence for entry in correct_flight.judged.entries if isinstance(entry, Notice)] == []


def test_every_item_was_judged(correct_flight: SectorFlight) -> None:
    """Every item of every gate entered was met at some time, and no signal left the limits of its book."""
    states = correct_flight.judged.judge.snapshot().items
    needed = {
        item
        for gate in correct_flight.pack.gates
        if gate.id in _entered_gates(correct_flight)
        for item in gate.needs
    }
    assert len(needed) > 200
    assert (
        sorted(i for i in needed if states[i].verdict is not Verdict.MET and states[i].last_met_s is None)
        == []
    )
    assert correct_flight.invalid == set()
    assert correct_flight.first.keys() == load_books(["twin_jet"]).keys()


def _entered_gates(correct_flight: SectorFlight) -> set[str]:
    """Return the gates that were entered."""
    return {entry.gate for entry in correct_flight.judged.entries if isinstance(entry, GateEntered)}


def test_the_flight_starts_and_ends_parked_without_power(correct_flight: SectorFlight) -> None:
    """At both ends power, engines and APU are off, brake and chocks set; the last place is 220 NM further south."""
    for state in (correct_flight.first, correct_flight.last):
        assert {state[f"electrical.bus.{bus}"] for bus in ("ac.1", "ac.2", "dc.1", "essential")} == {"off"}
        assert {state[f"engine.{k}.running"] for k in "12"} | {state["apu.available"]} == {"no"}
        assert (state["gear.chocks"], state["gear.parking_brake"]) == ("on", "set")
        assert number(state, "flight.ground_speed") < 0.01
    assert number(correct_flight.first, "flight.latitude") == pytest.approx(46.812, abs=0.01)
    assert number(correct_flight.last, "flight.latitude") == pytest.approx(43.18, abs=0.02)
    assert number(correct_flight.last, "flight.altitude") == 640.0


def test_the_library_flew_the_aeroplane(correct_flight: SectorFlight) -> None:
    """The library's clock reached the end of the flight, and its place and mass are those sent."""
    plane = correct_flight.aeroplane.aircraft
    assert plane["simulation/sim-time-sec"] == pytest.approx(correct_flight.last_s, abs=5.0)
    assert plane["position/lat-geod-deg"] == pytest.approx(
        number(correct_flight.last, "flight.latitude"), abs=1e-6
    )
    mass_lb = 0.6 * (48100.0 + number(correct_flight.last, "fuel.total")) / 0.45359237
    assert plane["inertia/weight-lbs"] == pytest.approx(mass_lb, rel=0.002)


def test_take_off_and_climb_are_normal(correct_flight: SectorFlight) -> None:
    """It lifts off between VR and 25 kt above, does not sink back, and pitch and bank stay within passenger comfort."""
    first = correct_flight.flying[0]
    assert 132.0 < number(first, "flight.airspeed") < 157.0
    grounds = [m["flight.on_ground"] for m in correct_flight.moments]
    assert sum(then != now for now, then in pairwise(grounds)) == 2
    assert max(number(m, "flight.pitch") for m in correct_flight.flying) < 16.0
    assert max(abs(number(m, "flight.bank")) for m in correct_flight.flying) < 27.0
    assert max(number(m, "cabin.altitude") for m in correct_flight.flying) < 8000.0


@pytest.mark.parametrize("height_ft", [1000.0, 500.0])
def test_the_approach_is_stable(correct_flight: SectorFlight, height_ft: float) -> None:
    """At 1 000 and 500 ft it is on localizer and glide path, at its speed, with landing flaps and thrust."""
    moment = correct_flight.at_height(height_ft)
    assert abs(number(moment, "navigation.glide_path")) < 0.5
    assert abs(number(moment, "navigation.localizer")) < 0.3
    assert number(moment, "flight.airspeed") == pytest.approx(136.0, abs=5.0)
    assert -1000.0 < number(moment, "flight.vertical_speed") < -500.0
    assert number(moment, "controls.flap.position") == 28.0
    assert number(moment, "engine.1.n1") > 40.0


def test_the_landing_is_soft_and_the_roll_short(correct_flight: SectorFlight) -> None:
    """It touches down softly near the centre line, nose up; spoilers and reversers deploy, and within 45 s it is slow."""
    last = correct_flight.flying[-1]
    after = correct_flight.moments[correct_flight.moments.index(last) + 1 :]
    assert -500.0 < number(last, "flight.vertical_speed") < 0.0
    assert number(last, "flight.pitch") > 1.0
    assert abs(number(last, "navigation.localizer")) < 0.3
    assert number(after[8], "controls.spoiler.left") > 90.0
    assert "deployed" in {m["engine.1.reverser"] for m in after}
    slow = next(m for m in after if number(m, "flight.airspeed") < 45.0)
    assert number(slow, "sim_s") - number(last, "sim_s") < 45.0


def test_the_fuel_follows_the_plan(correct_flight: SectorFlight) -> None:
    """The tanks only decrease, apart from gauge noise, and the trip uses no more than planned."""
    minutes = [number(m, "fuel.total") for m in correct_flight.moments[1::120]]
    assert all(then < now + 15.0 for now, then in pairwise(minutes))
    assert 2000.0 < minutes[0] - minutes[-1] < 5200.0


def test_every_slip_of_the_demo_is_found_soon(library: None) -> None:  # noqa: ARG001 - it must be here
    """Every slip of the demo is made on a whole flight, and found soon after."""
    flight = fly(["demo"])
    assert flight.judged.phases == PHASES
    slip_s = {slip.id: slip.sim_s for slip in flight.slipped}
    assert set(slip_s) == set(CAUGHT)
    assert set(CAUGHT.values()) <= set(flight.judged.found)
    found = {slip: flight.judged.finding(item).sim_s for slip, item in CAUGHT.items()}
    assert {slip for slip in CAUGHT if not 0.0 <= found[slip] - slip_s[slip] < SOON_S} == set()
