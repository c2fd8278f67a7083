"""Makes a flight of the mock aeroplane as frames of 340 signals, of which exactly 30 change in each frame.

Where more than 30 signals changed, words come first and then the signals that have waited longest; the others follow in
later frames.  Where fewer changed, further signals are changed in turn: those that the pack does not read (a switch to its
other word, a number by a ten-thousandth of its range), and numbers that no gate needs.  They return to the flight's value
in a later frame, because then they differ from it.

In the rough flight ten of the 30 changes are such toggles, of every signal except those that the gates need.  About eight
verdicts change in each frame, which happens in no real cockpit.

Takes: a pack.  Gives: `FlightFrames`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import cycle, islice
from pathlib import Path

from mock_sim.run import Flight
from rules.judge.condition_ids import monitored_conditions
from rules.language.checked_tree import Condition
from rules.packs.condition_facts import signals_read
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value

SIGNALS = 340
CHANGING = 30
TOGGLES = 10
FIGURE = "figure."
RATE_HZ = 8.0
"""Frames per second; a power of two, so that times are exact and two clocks can be compared."""
TRIP_PATH = Path(__file__).parents[2] / "rules" / "packs" / "data" / "twin_jet" / "trip_demo.yaml"


@dataclass(frozen=True)
class FlightFrames:
    """Frames, with the pack and the trip sheet of the flight."""

    pack: Pack
    trip: TripSheet
    signals: Mapping[str, Signal]
    frames: tuple[Frame, ...]

    def values(self) -> Iterator[dict[str, Value]]:
        """Give the whole state with the trip values at each frame, as one dictionary that is updated."""
        values: dict[str, Value] = dict(self.trip.values)
        for frame in self.frames:
            values.update({s.name: s.value for s in frame.changes if s.value is not None})
            yield values

    def part(self, start: int, length: int) -> FlightFrames:
        """Cut out some frames; the first of them has every signal."""
        first = self.frames[start]
        trip_values, values = self.trip.values, next(islice(self.values(), start, None))
        samples = tuple(
            Sample(name, value, Quality.FRESH, first.sim_s)
            for name, value in values.items()
            if name not in trip_values
        )
        frames = (replace(first, changes=samples), *self.frames[start + 1 : start + length])
        return replace(self, frames=frames)


@lru_cache(maxsize=1)
def twin_jet() -> tuple[Pack, TripSheet]:
    """Load the pack and the trip sheet of the benchmarks."""
    trip = load_trip_sheet(TRIP_PATH)
    return load_pack("twin_jet", trip=trip), trip


def conditions_without_figures(pack: Pack) -> dict[str, Condition]:
    """Give the pack's conditions except those that read a figure, which is calculated and not sent."""
    return {
        name: condition
        for name, condition in monitored_conditions(pack).items()
        if not any(read.startswith(FIGURE) for read in signals_read(condition))
    }


def chosen_signals(pack: Pack) -> tuple[str, ...]:
    """Choose 340 signals: all that the pack reads, then other numbers, then other words."""
    read = frozenset().union(*map(signals_read, monitored_conditions(pack).values()))
    names = [name for name in pack.signals if not name.startswith(("trip.", FIGURE))]
    return tuple(sorted(names, key=lambda n: (n not in read, not pack.signals[n].is_numeric))[:SIGNALS])


def movable_signals(pack: Pack, names: tuple[str, ...], *, rough: bool) -> tuple[str, ...]:
    """Choose the signals that may be changed: those that no condition reads, then numbers that no gate needs."""
    read = frozenset().union(*map(signals_read, monitored_conditions(pack).values()))
    gates = frozenset().union(*(signals_read(gate.cue) | signals_read(gate.entry) for gate in pack.gates))
    free = [n for n in names if n not in gates and pack.signals[n].kind is not SignalKind.TEXT]
    if rough:
        return tuple(free)
    measured = [n for n in free if n in read and pack.signals[n].kind is SignalKind.QUANTITY]
    return (*(n for n in free if n not in read), *measured)


def nearby_value(signal: Signal, value: Value) -> Value:
    """Give another valid value near the present one."""
    if isinstance(value, str):
        words = signal.words
        return words[(words.index(value) + 1) % len(words)]
    step = 1.0 if signal.kind is SignalKind.COUNT else (signal.high - signal.low) * 1e-4
    return value - step if value > (signal.low + signal.high) / 2 else value + step


class ChangePicker:
    """Chooses the changes of the next frame."""

    def __init__(self, pack: Pack, shown: dict[str, Value], *, rough: bool) -> None:
        self._signals = pack.signals
        self._turn = cycle(movable_signals(pack, tuple(shown), rough=rough))
        self._most = CHANGING - (TOGGLES if rough else 0)
        self._since: dict[str, int] = {}
        self.shown = shown

    def pick(self, state: Mapping[str, Value], number: int) -> dict[str, Value]:
        """Choose the 30 values that change in frame `number`."""
        shown = self.shown
        behind = [name for name in shown if state[name] != shown[name]]
        since = {name: self._since.get(name, number) for name in behind}
        behind.sort(key=lambda name: (isinstance(state[name], float), since[name]))
        picked = {name: state[name] for name in behind[: self._most]}
        self._since = {name: since[name] for name in behind[self._most :]}
        while len(picked) < CHANGING:
            name = next(self._turn)
            if name not in since:
                picked.setdefault(name, nearby_value(self._signals[name], shown[name]))
        shown.update(picked)
        return picked


def _plain(value: Value) -> Value:
    """Convert a number to a float, as it is sent."""
    return value if isinstance(value, str) else float(value)


@lru_cache(maxsize=4)
def flight_trace(most: int = 1_000_000, *, rough: bool = False) -> FlightFrames:
    """Fly the departure for at most so many frames."""
    pack, trip = twin_jet()
    names = chosen_signals(pack)
    frames: list[Frame] = []
    picker: ChangePicker | None = None
    for number, moment in enumerate(islice(Flight(rate_hz=RATE_HZ), most)):
        state = {name: _plain(moment.state[name]) for name in names}
        if picker is None:
            picker, changes = ChangePicker(pack, state, rough=rough), dict(state)
        else:
            changes = picker.pick(state, number)
        samples = tuple(Sample(name, value, Quality.FRESH, moment.sim_s) for name, value in changes.items())
        calls = tuple(call.name for call in moment.calls if call.name in pack.calls)
        frames.append(Frame("bench", moment.sim_s, moment.sim_s, 0, names, samples, calls))
    return FlightFrames(pack, trip, {name: pack.signals[name] for name in names}, tuple(frames))
