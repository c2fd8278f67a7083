"""One whole twin-jet flight in the library's flight mechanics, engines off to engines off, judged from the first frame on."""

from __future__ import annotations

from itertools import pairwise

import pytest

from rules.judge.events import GateEntered, Notice
from tests.real.sector_flight import SectorFlight, fly, number

pytestmark = [pytest.mark.real, pytest.mark.timeout(600)]

PHASES = [
    "power_up", "before_start", "push_back", "engine_start", "after_start", "before_taxi", "taxi", "line_up", "takeoff",
    "high_speed", "rotation", "initial_climb", "climb", "high_climb", "cruise", "descent", "approach", "final",
    "short_final", "landing", "taxi_in", "parked", "shutdown", "secure", "dark",
]  # fmt: skip

CAUGHT = {
    "left_aft_pump_off": "flow.before_start.pump_left_aft",
    "v2_differs": "flow.papers.v2_first_officer",
    "thrust_uneven": "flow.takeoff_roll.thrust_2",
    "gear_left_down": "flow.initial_climb.gear_up",
    "fast_below_10000": "watch.low_level_speed",
    "standard_missed": "watch.standard_at_transition",
    "landing_elevation_wrong": "flow.descent_preparation.arrival_elevation",
    "qnh_differs": "flow.approach.qnh_first_officer",
    "spoilers_not_armed": "flow.landing_configuration.landing_spoilers",
    "fast_on_final": "flow.stabilised_500.speed_high",
    "flaps_left_out": "watch.flaps_while_taxiing_in",
}
"""Where each slip of the scenario's demo is found."""
SOON_S = 300.0


@pytest.fixture(scope="module")
def whole(library: None) -> SectorFlight:  # noqa: ARG001 - it must be here
    """The correct flight, flown once."""
    return fly()


def test_every_phase_once_and_in_order(whole: SectorFlight) -> None:
    """From power-up to dark, none is skipped and none comes twice."""
    assert whole.judged.phases == PHASES


def test_a_correct_flight_hears_nothing(whole: SectorFlight) -> None:
    """No finding and no notice of any level from the first frame to the last, though no number is of our making."""
    assert [finding.sentence for finding in whole.judged.judge.findings] == []
    assert [entry.sentence for entry in whole.judged.entries if isinstance(entry, Notice)] == []


def test_it_was_really_judged(whole: SectorFlight) -> None:
    """Every item of every gate on the way was met at some time, with no signal outside its book."""
    states = whole.judged.judge.items.states
    needed = {item for gate in whole.pack.gates if gate.id in _passed(whole) for item in gate.needs}
    assert len(needed) > 200
    assert sorted(i for i in needed if states[i].truth is not True and states[i].last_met_s is None) == []
    assert whole.invalid == set()
    assert len(whole.first) == 345


def _passed(whole: SectorFlight) -> set[str]:
    """The gates that were entered."""
    return {entry.gate for entry in whole.judged.entries if isinstance(entry, GateEntered)}


def test_it_begins_and_ends_parked_and_dark(whole: SectorFlight) -> None:
    """Both times: no power, engines and APU stopped, brake set, chocks on; at the end 220 NM further south."""
    for state in (whole.first, whole.last):
        assert {state[f"electrical.bus.{bus}"] for bus in ("ac.1", "ac.2", "dc.1", "essential")} == {"off"}
        assert {state[f"engine.{k}.running"] for k in "12"} | {state["apu.available"]} == {"no"}
        assert (state["gear.chocks"], state["gear.parking_brake"]) == ("on", "set")
        assert number(state, "flight.ground_speed") < 0.01
    assert number(whole.first, "flight.latitude") == pytest.approx(46.812, abs=0.01)
    assert number(whole.last, "flight.latitude") == pytest.approx(43.18, abs=0.02)
    assert number(whole.last, "flight.altitude") == 640.0


def test_the_library_has_flown_it(whole: SectorFlight) -> None:
    """The library's own clock has come as far as the flight, and its place and mass are those that were shown."""
    plane = whole.aeroplane.aircraft
    assert plane["simulation/sim-time-sec"] == pytest.approx(whole.last_s, abs=5.0)
    assert plane["position/lat-geod-deg"] == pytest.approx(number(whole.last, "flight.latitude"), abs=1e-6)
    shown = 0.6 * (48100.0 + number(whole.last, "fuel.total")) / 0.45359237
    assert plane["inertia/weight-lbs"] == pytest.approx(shown, rel=0.002)


def test_take_off_and_climb(whole: SectorFlight) -> None:
    """It lifts off between VR and 25 kt above, does not sink back, and pitch and bank stay within what passengers bear."""
    first = whole.flying[0]
    assert 132.0 < number(first, "flight.airspeed") < 157.0
    grounds = [m["flight.on_ground"] for m in whole.moments]
    assert sum(then != now for now, then in pairwise(grounds)) == 2
    assert max(number(m, "flight.pitch") for m in whole.flying) < 16.0
    assert max(abs(number(m, "flight.bank")) for m in whole.flying) < 27.0
    assert max(number(m, "cabin.altitude") for m in whole.flying) < 8000.0


@pytest.mark.parametrize("height_ft", [1000.0, 500.0])
def test_the_approach_is_stable(whole: SectorFlight, height_ft: float) -> None:
    """At 1 000 and 500 ft it is on line and path, at its speed, flaps out, thrust up."""
    moment = whole.at_height(height_ft)
    assert abs(number(moment, "navigation.glide_path")) < 0.5
    assert abs(number(moment, "navigation.localizer")) < 0.3
    assert number(moment, "flight.airspeed") == pytest.approx(136.0, abs=5.0)
    assert -1000.0 < number(moment, "flight.vertical_speed") < -500.0
    assert number(moment, "controls.flap.position") == 28.0
    assert number(moment, "engine.1.n1") > 40.0


def test_the_landing_is_soft_and_the_roll_short(whole: SectorFlight) -> None:
    """It touches gently near the line, nose up; spoilers and reversers follow, and within 45 s it is slow."""
    last = whole.flying[-1]
    after = whole.moments[whole.moments.index(last) + 1 :]
    assert -500.0 < number(last, "flight.vertical_speed") < 0.0
    assert number(last, "flight.pitch") > 1.0
    assert abs(number(last, "navigation.localizer")) < 0.3
    assert number(after[8], "controls.spoiler.left") > 90.0
    assert "deployed" in {m["engine.1.reverser"] for m in after}
    slow = next(m for m in after if number(m, "flight.airspeed") < 45.0)
    assert number(slow, "sim_s") - number(last, "sim_s") < 45.0


def test_the_library_burns_our_fuel(whole: SectorFlight) -> None:
    """The tanks only go down (but for the gauges' noise), and the trip takes no more than the plan has for it."""
    minutes = [number(m, "fuel.total") for m in whole.moments[1::120]]
    assert all(then < now + 15.0 for now, then in pairwise(minutes))
    assert 2000.0 < minutes[0] - minutes[-1] < 5200.0


def test_slips_are_found_on_this_flight_too(library: None) -> None:  # noqa: ARG001 - it must be here
    """Every slip of the demo is made, from the stand to the stand, and found after it is made and before long."""
    flight = fly(["demo"])
    assert flight.judged.phases == PHASES
    made = {slip.id: slip.sim_s for slip in flight.slipped}
    assert set(made) == set(CAUGHT)
    assert set(CAUGHT.values()) <= set(flight.judged.found)
    found = {slip: flight.judged.finding(item).sim_s for slip, item in CAUGHT.items()}
    assert {slip for slip in CAUGHT if not 0.0 <= found[slip] - made[slip] < SOON_S} == set()
