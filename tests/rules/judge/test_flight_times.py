"""Out, off, on and in: recorded for each flight, with block and flight time by the aeroplane's clock."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.judge.events import FlightTimeRecorded
from rules.judge.judge import Judge
from rules.packs.model import FlightTimeRule, OooiMoment
from rules.signals.model import Frame, Quality, Sample, Value
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    SIGNALS,
    SPEED,
    FixedTripValues,
    PackBuilder,
    above,
    number,
    on,
)

CLOCK = number("clock.utc", "s")
FLYING = BEACON
"""In these tests the beacon stands for being in the air, the light for the parking brake."""


class ClockFlight:
    """A judge with rules for the four moments, and its flight times."""

    def __init__(self, *, clock_s: float | None = 86000.0, phases: tuple[str, ...] = ()) -> None:
        """Start at rest on the stand with the brake set."""
        air, brake = on(FLYING), on(SIGNALS["light"])
        rules = (
            FlightTimeRule(OooiMoment.OUT, above(SPEED, 1), phases),
            FlightTimeRule(OooiMoment.OFF, air),
            FlightTimeRule(OooiMoment.ON, on(SIGNALS["pump"])),
            FlightTimeRule(OooiMoment.IN, brake),
        )
        pack = replace(PackBuilder([]).pack(), flight_times=rules, signals={**SIGNALS, CLOCK.name: CLOCK})
        self.judge = Judge(pack, FixedTripValues())
        self.values: dict[str, Value] = {**AT_REST, "light": "on"}
        self.clock_s = clock_s
        self.recorded: list[FlightTimeRecorded] = []
        self.epoch = 0
        self.at(0)

    def at(self, sim_s: float, **values: Value) -> None:
        """Send everything at a time, with these values changed."""
        self.values |= values
        if self.clock_s is not None:
            self.values["clock.utc"] = (self.clock_s + sim_s) % 86400
        samples = [Sample(name, value, Quality.FRESH, sim_s) for name, value in self.values.items()]
        frame = Frame("test", sim_s, sim_s, self.epoch, tuple(self.values), samples)
        self.recorded += [
            entry for entry in self.judge.judge_frame(frame) if isinstance(entry, FlightTimeRecorded)
        ]

    @property
    def flight_times(self) -> list[tuple[str, int, float]]:
        """Moment, flight and time of each event."""
        return [(str(n.moment), n.sector, n.at_s) for n in self.recorded]

    @property
    def spans(self) -> tuple[float | None, float | None]:
        """Block and flight time of the last moment."""
        return self.recorded[-1].block_s, self.recorded[-1].flight_s

    def fly_circuit(self, begin_s: float) -> None:
        """Fly 1 000 s from stand to stand."""
        self.at(begin_s, light="off")
        self.at(begin_s + 10, speed=5.0)
        self.at(begin_s + 100, beacon="on", pump="off")
        self.at(begin_s + 700, beacon="off", pump="on")
        self.at(begin_s + 990, speed=0.0)
        self.at(begin_s + 1010, light="on")


def test_one_flight_over_midnight() -> None:
    """Each moment is recorded once, and the durations are right over midnight UTC."""
    flight = ClockFlight()
    flight.fly_circuit(100)
    assert flight.flight_times == [("out", 1, 110), ("off", 1, 200), ("on", 1, 800), ("in", 1, 1110)]
    assert [entry.utc_s for entry in flight.recorded] == [86110, 86200, 400, 710]
    assert flight.spans == (1000, 600)


def test_without_a_clock_durations_are_in_simulator_time() -> None:
    """Without a clock there is no UTC, and block and flight time are the simulator's."""
    flight = ClockFlight(clock_s=None)
    flight.fly_circuit(100)
    assert {entry.utc_s for entry in flight.recorded} == {None}
    assert flight.spans == (1000, 600)


def test_a_second_flight_is_a_second_set() -> None:
    """Going out again begins a new flight with its own times."""
    flight = ClockFlight()
    flight.fly_circuit(100)
    flight.fly_circuit(3000)
    assert [entry.sector for entry in flight.recorded] == [1] * 4 + [2] * 4
    assert flight.spans[0] == 1000


def test_a_return_to_the_stand_is_recorded() -> None:
    """Out and in without a flight have a block time and no flight time; the next out is a new flight."""
    flight = ClockFlight()
    flight.at(100, light="off", speed=5.0)
    flight.at(300, speed=0.0, light="on")
    block_s, flight_s = flight.spans
    assert block_s == 200
    assert flight_s is None
    flight.fly_circuit(1000)
    assert flight.flight_times[2:3] == [("out", 2, 1010)]
    assert flight.spans[0] == 1000


def test_the_last_touchdown_counts() -> None:
    """A touch-and-go keeps the time off, and records on again."""
    flight = ClockFlight()
    flight.at(100, light="off", speed=5.0)
    flight.at(200, beacon="on")
    flight.at(500, beacon="off", pump="on")
    flight.at(505, beacon="on", pump="off")
    flight.at(900, beacon="off", pump="on")
    flight.at(1000, light="on")
    assert flight.flight_times == [
        ("out", 1, 100),
        ("off", 1, 200),
        ("on", 1, 500),
        ("on", 1, 900),
        ("in", 1, 1000),
    ]
    assert flight.spans[1] == 700


def test_a_second_stop_replaces_the_first() -> None:
    """A second stop replaces the time in, and the block time is longer."""
    flight = ClockFlight()
    flight.fly_circuit(100)
    flight.at(1200, light="off")
    flight.at(1400, light="on")
    assert flight.flight_times[-1:] == [("in", 1, 1400)]
    assert flight.spans[0] == 1290


def test_a_condition_true_from_the_start_is_not_recorded() -> None:
    """A bridge that connects in flight records the landing, and no durations."""
    flight = ClockFlight()
    flight.recorded.clear()
    flight.values |= {"beacon": "on", "light": "off", "speed": 200.0}
    flight.epoch = 1
    flight.at(5)
    assert not flight.recorded
    flight.at(300, beacon="off", pump="on")
    flight.at(400, speed=0.0, light="on")
    assert flight.flight_times == [("on", 1, 300), ("in", 1, 400)]
    assert flight.spans == (None, None)


@pytest.mark.parametrize(("phases", "out"), [(("stand", "pushing"), True), (("rolling",), False)])
def test_a_moment_counts_only_in_its_phases(phases: tuple[str, ...], out: bool) -> None:
    """A condition that is true in another phase is no moment."""
    flight = ClockFlight(phases=phases)
    flight.at(100, light="off", speed=5.0)
    assert bool(flight.recorded) is out
