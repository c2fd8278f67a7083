"""Callouts on a correct flight of the twin jet, and in a slow start."""

from __future__ import annotations

from collections.abc import Iterable

from rules.judge.events import Callout, JudgeEvent
from tests.packs_flight.recorded_sector import CleanSector

START = ["start_oil", "start_n1", "start_fuel_speed", "start_10", "light_off", "start_20", "starter_cut_out"]


def callouts(entries: Iterable[JudgeEvent]) -> list[Callout]:
    """Callouts, in order."""
    return [entry for entry in entries if isinstance(entry, Callout)]


def test_callouts_of_both_starts_are_on_time(clean: CleanSector) -> None:
    """Each start calls its time and its signs once: oil before N1, light-off after the fuel's speed, cut-out last."""
    calls = callouts(clean.judged.entries)
    begins = [n for n, call in enumerate(calls) if call.id == "start_oil"]
    assert len(begins) == 2
    for begin in begins:
        names = [call.id for call in calls[begin : begin + len(START)]]
        names = names[: names.index("starter_cut_out") + 1]
        signs = [name for name in names if name not in ("start_10", "start_20", "start_30")]
        assert signs == ["start_oil", "start_n1", "start_fuel_speed", "light_off", "starter_cut_out"]
        assert "start_10" in names


def test_the_clock_is_called_on_time(clean: CleanSector) -> None:
    """The callout "ten seconds" is made ten seconds after the start valve opened."""
    tens = [call.sim_s for call in callouts(clean.judged.entries) if call.id == "start_10"]
    opened = [
        moment.sim_s
        for before, moment in zip(clean.moments, clean.moments[1:], strict=False)
        for name in ("engine.1.start_valve", "engine.2.start_valve")
        if before.state[name] == "closed" and moment.state[name] == "open"
    ]
    assert tens == [sim_s + 10 for sim_s in opened]


def test_the_brake_is_called_released_once_with_the_time_off_blocks(clean: CleanSector) -> None:
    """The release of the brake for the push back is called with the time of the panel clock."""
    (call,) = [call for call in callouts(clean.judged.entries) if call.id == "brake_released"]
    assert clean.state_at(call.sim_s)["gear.parking_brake"] == "released"
    seconds = int(float(clean.state_at(call.sim_s)["clock.utc"]))
    assert call.text == f"Brake released at {seconds // 3600:02d}:{seconds // 60 % 60:02d}"


def test_the_roll_is_called_once_in_its_order(clean: CleanSector) -> None:
    """Airspeed alive, 80 knots, V1, rotate and positive climb are called once each, in this order, none in the landing roll."""
    earlier = ("start", "light", "brake_released")
    calls = [call for call in callouts(clean.judged.entries) if not call.id.startswith(earlier)]
    assert [call.id for call in calls] == ["airspeed_alive", "cross_check", "v1", "rotate", "positive_climb"]
    speed = {call.id: clean.state_at(call.sim_s)["airspeed.captain"] for call in calls}
    before = {call.id: clean.state_at(call.sim_s - 1)["airspeed.captain"] for call in calls}
    assert float(before["cross_check"]) < 80 <= float(speed["cross_check"])
    assert float(before["v1"]) < float(clean.trip.values["trip.v1"]) - 3 <= float(speed["v1"])


def test_a_hung_start_has_callouts_up_to_30_s_and_no_cut_out(clean: CleanSector) -> None:
    """With the valve held open the time is called up to 30 s; no other sign is called."""
    opened_s = next(m.sim_s for m in clean.moments if "open" in (m.state["engine.1.start_valve"], m.state["engine.2.start_valve"]))  # fmt: skip
    engine = "1" if clean.state_at(opened_s)["engine.1.start_valve"] == "open" else "2"
    held = clean.state_at(opened_s + 8)
    stuck = {name: held[name] for name in held if name.startswith(f"engine.{engine}.")}
    judged = clean.joined(
        opened_s - 20, opened_s + 35, lambda sim_s, _: stuck if sim_s >= opened_s + 8 else {}
    )
    names = [call.id for call in callouts(judged.entries)]
    assert [name for name in names if name in ("start_10", "start_20", "start_30")] == ["start_10", "start_20", "start_30"]  # fmt: skip
    assert "light_off" not in names
    assert "starter_cut_out" not in names
