"""A flight of the mock aeroplane as frames of 300 signals, of which exactly 30 change from each frame to the next.

Where more than 30 moved, words go first and then what has waited longest; the rest comes with a later frame.  Where fewer
did, others are moved in turn: what the pack does not read (a switch to its other word, a number by a ten-thousandth of its
range), and numbers of which no gate asks.  They go back by themselves, because then they differ from the flight.

That is a flight as it is.  In the rough trace a third of what changes is such toggles, of every signal but those that
the gates ask for: some eight verdicts change with each frame, which no cockpit does.

Takes: a pack.  Gives: `Trace`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import cycle, islice
from pathlib import Path

from mock_sim.run import Flight
from rules.judge.condition_facts import signals_read
from rules.judge.condition_ids import monitored_conditions
from rules.language.checked_tree import Condition
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value

SIGNALS = 300
CHANGING = 30
TOGGLES = 10
FIGURE = "figure."
RATE_HZ = 8.0
"""A power of two, so that the frames' times are exact and two clocks can be compared."""
TRIP_PATH = Path(__file__).parents[2] / "rules" / "packs" / "data" / "twin_jet" / "trip_demo.yaml"


@dataclass(frozen=True)
class FlightFrames:
    """Frames with what they show in all."""

    pack: Pack
    trip: TripSheet
    signals: Mapping[str, Signal]
    frames: tuple[Frame, ...]

    def values(self) -> Iterator[dict[str, Value]]:
        """The whole state with the papers at each frame; one dictionary, brought up to date."""
        values: dict[str, Value] = dict(self.trip.values)
        for frame in self.frames:
            values.update({s.name: s.value for s in frame.changes if s.value is not None})
            yield values

    def part(self, start: int, length: int) -> FlightFrames:
        """So many frames from one on; the first of them tells everything."""
        first = self.frames[start]
        papers, values = self.trip.values, next(islice(self.values(), start, None))
        samples = tuple(
            Sample(name, value, Quality.FRESH, first.sim_s)
            for name, value in values.items()
            if name not in papers
        )
        frames = (replace(first, changes=samples), *self.frames[start + 1 : start + length])
        return replace(self, frames=frames)


@lru_cache(maxsize=1)
def twin_jet() -> tuple[Pack, TripSheet]:
    """The pack and the papers of the benchmarks."""
    trip = load_trip_sheet(TRIP_PATH)
    return load_pack("twin_jet", trip=trip), trip


def conditions_without_figures(pack: Pack) -> dict[str, Condition]:
    """The pack's conditions, but for those that read a figure: that is worked out, not sent."""
    return {
        name: condition
        for name, condition in monitored_conditions(pack).items()
        if not any(read.startswith(FIGURE) for read in signals_read(condition))
    }


def chosen_signals(pack: Pack) -> tuple[str, ...]:
    """300 signals of the aeroplane: all that the pack reads, then the other numbers, then the other words."""
    read = frozenset().union(*map(signals_read, monitored_conditions(pack).values()))
    names = [name for name in pack.signals if not name.startswith(("trip.", FIGURE))]
    return tuple(sorted(names, key=lambda n: (n not in read, not pack.signals[n].is_numeric))[:SIGNALS])


def movable_signals(pack: Pack, names: tuple[str, ...], *, rough: bool) -> tuple[str, ...]:
    """Those that may be moved: what the pack does not read, then numbers of which no gate asks; when rough, all of those."""
    read = frozenset().union(*map(signals_read, monitored_conditions(pack).values()))
    gates = frozenset().union(*(signals_read(gate.cue) | signals_read(gate.entry) for gate in pack.gates))
    free = [n for n in names if n not in gates and pack.signals[n].kind is not SignalKind.TEXT]
    if rough:
        return tuple(free)
    measured = [n for n in free if n in read and pack.signals[n].kind is SignalKind.QUANTITY]
    return (*(n for n in free if n not in read), *measured)


def nearby_value(signal: Signal, value: Value) -> Value:
    """Another value near by that the signal can have."""
    if isinstance(value, str):
        words = signal.words
        return words[(words.index(value) + 1) % len(words)]
    step = 1.0 if signal.kind is SignalKind.COUNT else (signal.high - signal.low) * 1e-4
    return value - step if value > (signal.low + signal.high) / 2 else value + step


class ChangePicker:
    """Decides what the next frame tells."""

    def __init__(self, pack: Pack, shown: dict[str, Value], *, rough: bool) -> None:
        self._signals = pack.signals
        self._turn = cycle(movable_signals(pack, tuple(shown), rough=rough))
        self._most = CHANGING - (TOGGLES if rough else 0)
        self._since: dict[str, int] = {}
        self.shown = shown

    def pick(self, state: Mapping[str, Value], number: int) -> dict[str, Value]:
        """The 30 values that change with frame `number`."""
        shown = self.shown
        behind = [name for name in shown if state[name] != shown[name]]
        since = {name: self._since.get(name, number) for name in behind}
        behind.sort(key=lambda name: (isinstance(state[name], float), since[name]))
        told = {name: state[name] for name in behind[: self._most]}
        self._since = {name: since[name] for name in behind[self._most :]}
        while len(told) < CHANGING:
            name = next(self._turn)
            if name not in since:
                told.setdefault(name, nearby_value(self._signals[name], shown[name]))
        shown.update(told)
        return told


def _plain(value: Value) -> Value:
    """Numbers as the wire has them."""
    return value if isinstance(value, str) else float(value)


@lru_cache(maxsize=4)
def flight_trace(most: int = 1_000_000, *, rough: bool = False) -> FlightFrames:
    """The departure, as far as so many frames."""
    pack, trip = twin_jet()
    names = chosen_signals(pack)
    frames: list[Frame] = []
    picker: ChangePicker | None = None
    for number, moment in enumerate(islice(Flight(rate_hz=RATE_HZ), most)):
        state = {name: _plain(moment.state[name]) for name in names}
        if picker is None:
            picker, told = ChangePicker(pack, state, rough=rough), dict(state)
        else:
            told = picker.pick(state, number)
        samples = tuple(Sample(name, value, Quality.FRESH, moment.sim_s) for name, value in told.items())
        calls = tuple(call.name for call in moment.calls if call.name in pack.calls)
        frames.append(Frame("bench", moment.sim_s, moment.sim_s, 0, names, samples, calls))
    return FlightFrames(pack, trip, {name: pack.signals[name] for name in names}, tuple(frames))
