"""The clean sector: from parked and dark to parked and dark, well flown, with every call."""

from __future__ import annotations

from itertools import pairwise

import pytest

from mock_sim.run import FlightMoment
from mock_sim.twin_jet import Halyard220
from tests.mock_sim.sector.clean_flight import clean_flight, new_flight

AIRBORNE_CALLS = [
    "cross_check",
    "v1",
    "rotate",
    "positive_climb",
    "after_takeoff_checklist",
    "climb_clearance",
    "cruise_check",
    "descent_briefing",
    "cruise_check",
    "descent_checklist",
    "descent_clearance",
    "cabin_ready_landing",
    "approach_checklist",
    "approach_clearance",
    "landing_checklist",
    "landing_clearance",
    "runway_vacated",
    "taxi_in_clearance",
    "after_landing_checklist",
    "chocks_on",
    "parking_checklist",
    "shutdown_checklist",
    "secure_checklist",
]


def read(moment: FlightMoment, name: str) -> float:
    """A signal that is a number."""
    return float(moment.state[name])


def flying() -> list[FlightMoment]:
    """All moments in the air."""
    return [moment for moment in clean_flight().moments if moment.state["flight.on_ground"] == "no"]


def test_it_ends_parked_and_dark_at_the_other_airport() -> None:
    """After 55 to 75 minutes it stands at Selmar Point without power, chocks on, engines and APU stopped."""
    last = clean_flight().moments[-1]
    assert 55 * 60 < last.sim_s < 75 * 60
    assert abs(read(last, "flight.latitude") - 43.18) < 0.02
    assert read(last, "flight.altitude") == pytest.approx(640.0, abs=1.0)
    assert {last.state[f"electrical.bus.{bus}"] for bus in ("ac.1", "ac.2", "dc.1", "essential")} == {"off"}
    assert (last.state["gear.chocks"], last.state["gear.parking_brake"]) == ("on", "set")
    assert max(read(last, name) for name in ("engine.1.n2", "engine.2.n2", "apu.speed")) < 5.0


def test_the_sector_begins_like_the_departure() -> None:
    """The calls up to the take-off roll are those of the departure, and the later ones follow in order."""
    calls = [call.name for moment in clean_flight().moments for call in moment.calls]
    roll = calls.index("takeoff_clearance") + 1
    assert roll == 19
    assert calls[roll:] == AIRBORNE_CALLS


def test_every_value_stays_in_the_book() -> None:
    """No signal leaves its range or its words in the whole flight."""
    book = Halyard220().panel.signals
    for moment in clean_flight().moments[::5]:
        for name, value in moment.state.items():
            signal = book[name]
            if isinstance(value, str):
                assert not signal.words or value in signal.words, name
            elif signal.is_numeric:
                assert signal.low <= float(value) <= signal.high, (moment.sim_s, name, value)


def test_nothing_warns_in_the_air() -> None:
    """From lift-off to touchdown no warning and no caution comes on."""
    lights = (
        "alert.stall",
        "alert.overspeed",
        "alert.terrain",
        "alert.windshear",
        "alert.resolution_advisory",
        "alert.landing_configuration",
        "alert.cabin_altitude",
    )
    for moment in flying():
        assert {moment.state[name] for name in (*lights, "alert.master_warning")} == {"off"}, moment.sim_s
        assert moment.state["alert.caution_count"] == 0.0, moment.sim_s


def test_it_is_flown_within_its_limits() -> None:
    """Speeds, bank, pitch and climb stay within comfortable limits."""
    for moment in flying():
        assert abs(read(moment, "flight.bank")) <= 26.0
        assert -6.0 < read(moment, "flight.pitch") < 16.0
        assert 0.6 < read(moment, "flight.normal_load") < 1.4
        flap, speed = read(moment, "controls.flap.position"), read(moment, "flight.airspeed")
        most = next(
            kt for deg, kt in ((0.1, 330), (4.1, 235), (8.1, 225), (20.1, 200), (36.0, 170)) if flap <= deg
        )
        assert speed < most, (moment.sim_s, flap, speed)
        if read(moment, "flight.altitude") < 10000.0:
            assert speed <= 250.0


def test_the_take_off_meets_its_targets() -> None:
    """Thrust is even and at its target, lift-off is near V2, and the gear is up before 400 ft."""
    at_80 = clean_flight().at("first_officer.eighty")
    assert float(at_80["engine.1.n1"]) == pytest.approx(92.4, abs=0.5)
    assert abs(float(at_80["engine.1.n1"]) - float(at_80["engine.2.n1"])) < 0.5
    assert 136.0 < read(flying()[0], "flight.airspeed") < 155.0
    low = [moment for moment in flying()[:60] if read(moment, "flight.height") < 400.0]
    assert low[-1].state["gear.lever"] == "up"


def test_altimeters_go_to_standard_and_back() -> None:
    """Both sides show standard pressure in the cruise and the landing's setting on the approach, and agree all the time."""
    cruise, final = clean_flight().at("captain.level"), clean_flight().at("first_officer.landing")
    for seat in ("captain", "first_officer"):
        assert cruise[f"altimeter.{seat}.standard"] == "yes"
        assert (final[f"altimeter.{seat}.standard"], final[f"altimeter.{seat}.setting"]) == ("no", 1004.0)
    assert float(cruise["altimeter.captain.altitude"]) == pytest.approx(34000.0, abs=200.0)
    assert float(final["weather.qnh"]) == 1004.0


def test_the_cabin_follows_its_schedule() -> None:
    """The cabin stays below 8 000 ft, its rate within 550 ft/min in the air, and the differential is gone at touchdown."""
    assert max(read(moment, "cabin.altitude") for moment in flying()) < 8000.0
    assert max(abs(read(moment, "cabin.rate")) for moment in flying()) < 550.0
    assert max(read(moment, "cabin.differential") for moment in flying()) < 8.3
    assert abs(read(flying()[-1], "cabin.differential")) < 0.1


@pytest.mark.parametrize("height_ft", [1000.0, 500.0])
def test_the_approach_is_stable(height_ft: float) -> None:
    """At 1 000 and 500 ft the aeroplane is on glide path and localizer, in landing configuration, at its speed, with thrust set."""
    moment = next(m for m in reversed(flying()) if read(m, "flight.height") >= height_ft)
    assert abs(read(moment, "navigation.glide_path")) < 0.5
    assert abs(read(moment, "navigation.localizer")) < 0.3
    assert read(moment, "airspeed.captain") == pytest.approx(136.0, abs=5.0)
    assert -1000.0 < read(moment, "flight.vertical_speed") < -500.0
    assert {moment.state[f"gear.{leg}.locked"] for leg in ("nose", "left", "right")} == {"down"}
    assert (read(moment, "controls.flap.position"), moment.state["controls.speedbrake.lever"]) == (
        28.0,
        "armed",
    )
    assert read(moment, "engine.1.n1") > 40.0


def test_the_landing_is_soft_and_short() -> None:
    """The touchdown is soft and near the threshold; spoilers and reversers deploy, and the aeroplane slows down on the runway."""
    touch = next(n for n, m in enumerate(clean_flight().moments) if m.state == flying()[-1].state)
    before, after = clean_flight().moments[touch], clean_flight().moments[touch + 8]
    assert read(before, "flight.vertical_speed") > -500.0
    assert read(after, "controls.spoiler.left") > 90.0
    assert after.state["engine.1.reverser"] == "deployed"
    slow = next(m for m in clean_flight().moments[touch:] if read(m, "flight.ground_speed") < 30.0)
    assert 10.0 < slow.sim_s - before.sim_s < 45.0


def test_the_flight_is_shut_down_in_order() -> None:
    """Brake before fuel, fuel before beacon, N2 below 20 % before the beacon, chocks, and the battery last."""
    step_times_s = clean_flight().step_times_s
    order = [
        "captain.park",
        "captain.cut",
        "first_officer.beacon_off",
        "ground.chocks_again",
        "first_officer.battery_off",
    ]
    assert all(step_times_s[first] < step_times_s[then] for first, then in pairwise(order))
    assert float(clean_flight().at("first_officer.beacon_off")["engine.1.n2"]) < 20.0


def test_fuel_only_goes_down_and_stays_even() -> None:
    """About two tonnes are burnt, and the wing tanks stay within 100 kg of each other."""
    totals = [read(moment, "fuel.total") for moment in clean_flight().moments]
    assert all(then <= now for now, then in pairwise(totals))
    assert 1500.0 < totals[0] - totals[-1] < 3500.0
    assert (
        max(abs(read(m, "fuel.tank.left") - read(m, "fuel.tank.right")) for m in clean_flight().moments)
        < 100.0
    )


def test_two_flights_from_one_checkpoint_are_the_same() -> None:
    """Two flights that continue from one checkpoint are the same to the last digit, and the checkpoint is unchanged."""
    halt = clean_flight().checkpoint_before("captain.localizer")

    def ahead() -> list[FlightMoment]:
        return [moment for moment, _ in zip(new_flight().resume_from(halt), range(40), strict=False)]

    first = ahead()
    assert first == ahead()
    assert first[0].sim_s == halt.sim_s
    assert first[0].state == clean_flight().since(halt.sim_s)
