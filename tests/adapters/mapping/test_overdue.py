"""Signals that a sender has stopped sending are found by the simulator's clock, and by nothing else."""

from __future__ import annotations

import pytest

from adapters.decoders.base import DecodedRecord
from adapters.mapping.mapper import Mapper
from adapters.mapping.overdue import MISSED_RECORDS, OverdueFinder
from rules.signals.book import load_book
from rules.signals.model import Frame, Quality, Sample
from rules.signals.state import SignalState

SIGNALS = load_book("twin_jet").signals
BOTH, FUEL, BEACON = ("lights.beacon", "fuel.total"), ("fuel.total",), ("lights.beacon",)
AGE_S = SIGNALS["lights.beacon"].max_age_s


class FastSender:
    """Sends to a mapper and a state, a record each 50 ms at a multiple of real time."""

    def __init__(self, times: float) -> None:
        self.mapper, self.state = Mapper(SIGNALS, link="a"), SignalState(SIGNALS)
        self.times, self.now_s = times, 0.0

    def send(self, **fields: object) -> Frame:
        """Send one record."""
        named = {name.replace("_", "."): value for name, value in fields.items()}
        names = tuple(named)
        decoded = DecodedRecord(names, list(named.values()))  # type: ignore[arg-type]
        self.now_s += 0.05
        sim_s = self.now_s * self.times
        frame = self.mapper.build_frame(decoded, self.mapper.layout_for(names), sim_s, self.now_s, 0)
        self.state.expire(self.now_s)
        self.state.fold(frame)
        return frame

    @property
    def quality(self) -> Quality:
        """Quality of the beacon."""
        return self.state.sample("lights.beacon").quality


def test_a_field_that_is_left_out_becomes_invalid_by_the_simulators_clock() -> None:
    """At 40 times real time it is found after five records, 0.25 s; in simulated time 12 s."""
    sender = FastSender(40.0)
    sender.send(lights_beacon="on", fuel_total=8000.0)
    for _ in range(MISSED_RECORDS):
        sender.send(fuel_total=8000.0)
        assert "lights.beacon" in sender.state.values
    sender.send(fuel_total=8000.0)
    assert sender.quality is Quality.INVALID
    assert sender.now_s < 0.31


@pytest.mark.parametrize("times", [0.5, 1.0, 1.4])
def test_near_real_time_the_state_finds_it_stale(times: float) -> None:
    """Its limit by the clock of this computer comes first, with the last value for the reason."""
    sender = FastSender(times)
    sender.send(lights_beacon="on", fuel_total=8000.0)
    while sender.quality is Quality.FRESH:
        sender.send(fuel_total=8000.0)
    assert sender.state.sample("lights.beacon")[1:3] == ("on", Quality.STALE)
    assert sender.now_s > AGE_S


def test_it_is_fresh_again_when_it_is_sent_again() -> None:
    """Also with the same value, which is a change then; afterwards it can be left out again."""
    sender = FastSender(40.0)
    for _ in range(2):
        for _ in range(3):
            sender.send(lights_beacon="on", fuel_total=8000.0)
        assert sender.state.values["lights.beacon"] == "on"
        for _ in range(3 * MISSED_RECORDS):
            sender.send(fuel_total=8000.0)
        assert sender.quality is Quality.INVALID


@pytest.mark.parametrize("apart", [1, 3, MISSED_RECORDS])
def test_records_that_alternate_miss_nothing(apart: int) -> None:
    """A field in every second or fifth record is fresh, however far the simulated time between them."""
    sender = FastSender(400.0)
    for _ in range(6):
        sender.send(lights_beacon="on")
        for _ in range(apart):
            sender.send(fuel_total=8000.0)
            assert sender.quality is Quality.FRESH


def test_a_set_that_once_stayed_away_for_longer_has_more_time() -> None:
    """Its longest time away counts twice; one that was overdue has not set a new measure."""
    finder, both, fuel = OverdueFinder(SIGNALS), BOTH, FUEL
    number = 0

    def add(names: tuple[str, ...]) -> list[str]:
        nonlocal number
        number += 1
        return finder.add_record(names, number * 0.1, 0.0)

    for _ in range(4):
        add(both)
        for _ in range(3):
            assert add(fuel) == []
    finder.reset()
    add(both)
    found = [add(fuel) for _ in range(40)]
    assert found.index(["lights.beacon"]) == int(AGE_S / 0.1)
    assert finder.overdue == {"lights.beacon"}
    add(both)
    assert finder.overdue == set()


def test_what_another_set_still_brings_is_not_overdue() -> None:
    """Only the names that no present set has are found."""
    finder, other = OverdueFinder(SIGNALS), ("lights.beacon", "gear.lever")
    finder.add_record(BOTH, 0.0, 0.0)
    found = [finder.add_record(other, float(at_s), 0.0) for at_s in range(1, 20)]
    assert [names for names in found if names] == [["fuel.total"]]
    assert len(finder._sets) == 1


@pytest.mark.parametrize("step_s", [0.0, 600.0])
def test_neither_a_pause_nor_a_leap_of_the_clock_is_silence(step_s: float) -> None:
    """While the clock stands nothing ages; a leap by one record shows no missed ones."""
    finder = OverdueFinder(SIGNALS)
    finder.add_record(BOTH, 0.0, 0.0)
    for n in range(100 if not step_s else MISSED_RECORDS):
        assert finder.add_record(FUEL, step_s * (n > 0), 0.0) == []


def test_a_reset_forgets_everything() -> None:
    """After a reset of the clock the sender begins anew."""
    mapper = Mapper(SIGNALS)
    mapper._overdue.add_record(BOTH, 100.0, 0.0)
    mapper.reset()
    assert [
        mapper._overdue.add_record(FUEL, at_s, 0.0) for at_s in (0.0, 50.0, 100.0, 150.0, 200.0, 250.0)
    ] == [[]] * 6


def test_the_sample_names_the_signal_and_the_time() -> None:
    """The frame does not carry the signal, and has its sample without a value."""
    sender = FastSender(40.0)
    sender.send(lights_beacon="on", fuel_total=8000.0)
    frames = [sender.send(fuel_total=8000.0) for _ in range(MISSED_RECORDS + 1)]
    assert frames[-1].changes == [Sample("lights.beacon", None, Quality.STALE, frames[-1].sim_s)]
    assert frames[-1].carried == FUEL
