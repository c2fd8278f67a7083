"""What some signals said in a session, and for how long that could be believed.

Takes: a recording on a tape, the signals.  Gives: `Samples`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from bridge.debrief.time_axis import TimeAxis
from rules.signals.input_log import InputLog
from rules.signals.model import Signal, Value
from rules.signals.staleness import StaleFinder
from rules.signals.state import is_valid

MAX_POINTS = 600
_POINTS_PER_GROUP = 4
"""The first of a group, its least, its greatest, and where it stops being known."""
_CLEARED, _RECOVERED, _UPDATED, _STALE = range(4)
"""In this order within one frame."""


class _Event(NamedTuple):
    frame: int
    kind: int
    value: Value | None = None


class Samples:
    """The changes of some signals; None from when a value was invalid, or too old to be believed."""

    def __init__(self, tape: InputLog, axis: TimeAxis, wanted: Mapping[str, Signal]) -> None:
        """Pick them out in one pass.

        Args:
            tape: what was recorded.
            axis: its times.
            wanted: the signals by their names.
        """
        self._tape, self._ageing = tape, StaleFinder(tape)
        self._times_s: list[float] = axis.times_s.tolist()
        said: dict[str, list[_Event]] = {name: [] for name in wanted}
        at = 0
        for frame, count in enumerate(tape.counts):
            for place in range(at, at + count):
                name = tape.names[place]
                if name in said:
                    value = tape.others[place] if place in tape.others else tape.floats[place]
                    known = value if is_valid(wanted[name], value) else None
                    said[name].append(_Event(frame, _UPDATED, known))
            at += count
        self._changes = {name: self._value_changes(signal, said[name]) for name, signal in wanted.items()}

    def between(self, name: str, from_s: float, to_s: float) -> tuple[list[float], list[Value | None]]:
        """A signal from one time to another, with the value that stood at the beginning; thinned if there is much of it."""
        times_s, values = self._changes[name]
        first, last = bisect_right(times_s, from_s), bisect_left(times_s, to_s)
        found_s = [from_s, *times_s[first:last]] if first else times_s[first:last]
        found = [values[first - 1], *values[first:last]] if first else values[first:last]
        kept = _thinned(found)
        return [found_s[place] for place in kept], [found[place] for place in kept]

    def _value_changes(self, signal: Signal, updates: list[_Event]) -> tuple[list[float], list[Value | None]]:
        """What was known of a signal, and when that changed."""
        events = (
            sorted([*updates, *self._stale_events(signal)], key=lambda event: event[:2]) if updates else []
        )
        times_s: list[float] = []
        values: list[Value | None] = []
        standing: Value | None = None
        for frame, kind, value in events:
            if kind in (_UPDATED, _CLEARED):
                standing = value
            now = None if kind == _STALE else standing
            if not values or values[-1] != now:
                times_s.append(self._times_s[frame])
                values.append(now)
        return times_s, values

    def _stale_events(self, signal: Signal) -> Iterator[_Event]:
        """When a signal became too old and was carried again; what ages is forgotten when the clock jumps back."""
        if not signal.max_age_s:
            return
        carriers = tuple(n for n, names in enumerate(self._tape.name_sets) if signal.name in names)
        for first, end in self._tape.epoch_ranges():
            if first:
                yield _Event(first, _CLEARED)
            for lapse in self._ageing.stale_intervals(carriers, signal.max_age_s, first, end):
                yield _Event(lapse.check[0] - 1, _STALE)
                if lapse.renewed_at_frame < end:
                    yield _Event(lapse.renewed_at_frame, _RECOVERED)


def _thinned(values: Sequence[Value | None]) -> list[int]:
    """Which of many points to draw: the least and the greatest of each group stay, and where it stops being known."""
    if len(values) <= MAX_POINTS:
        return list(range(len(values)))
    groups = (MAX_POINTS - 1) // _POINTS_PER_GROUP
    size = -(-len(values) // groups)
    kept = {len(values) - 1}
    for start in range(0, len(values), size):
        kept.update(_group_extremes(values, range(start, min(start + size, len(values)))))
    return sorted(kept)


def _group_extremes(values: Sequence[Value | None], group: range) -> Iterator[int]:
    yield group[0]
    yield from [place for place in group if values[place] is None][:1]
    numbers = {place: value for place in group if isinstance(value := values[place], float | int)}
    if numbers:
        yield min(numbers, key=numbers.__getitem__)
        yield max(numbers, key=numbers.__getitem__)
