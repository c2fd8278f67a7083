"""What some signals said in a session, and for how long that could be believed.

Takes: a recording on a tape, the signals.  Gives: `Samples`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from bridge.debrief.axis import Axis
from rules.signals.ageing import Ageing
from rules.signals.model import Signal, Value
from rules.signals.state import bearable
from rules.signals.tape import Tape

MOST_POINTS = 600
_KEPT_OF_EACH = 4
"""The first of a group, its least, its greatest, and where it stops being known."""
_FORGOTTEN, _BACK, _SAID, _STALE = range(4)
"""In this order within one frame."""


class _Event(NamedTuple):
    frame: int
    kind: int
    value: Value | None = None


class Samples:
    """The changes of some signals; None from when a value was invalid, or too old to be believed."""

    def __init__(self, tape: Tape, axis: Axis, wanted: Mapping[str, Signal]) -> None:
        """Pick them out in one pass.

        Args:
            tape: what was recorded.
            axis: its times.
            wanted: the signals by their names.
        """
        self._tape, self._ageing = tape, Ageing(tape)
        self._times_s: list[float] = axis.times_s.tolist()
        said: dict[str, list[_Event]] = {name: [] for name in wanted}
        at = 0
        for frame, count in enumerate(tape.counts):
            for place in range(at, at + count):
                name = tape.names[place]
                if name in said:
                    value = tape.odd[place] if place in tape.odd else tape.numbers[place]
                    known = value if bearable(wanted[name], value) else None
                    said[name].append(_Event(frame, _SAID, known))
            at += count
        self._courses = {name: self._course(signal, said[name]) for name, signal in wanted.items()}

    def between(self, name: str, from_s: float, to_s: float) -> tuple[list[float], list[Value | None]]:
        """A signal from one time to another, with the value that stood at the beginning; thinned if there is much of it."""
        times_s, values = self._courses[name]
        first, last = bisect_right(times_s, from_s), bisect_left(times_s, to_s)
        found_s = [from_s, *times_s[first:last]] if first else times_s[first:last]
        found = [values[first - 1], *values[first:last]] if first else values[first:last]
        kept = _places_kept(found)
        return [found_s[place] for place in kept], [found[place] for place in kept]

    def _course(self, signal: Signal, said: list[_Event]) -> tuple[list[float], list[Value | None]]:
        """What was known of a signal, and when that changed."""
        events = sorted([*said, *self._doubts(signal)], key=lambda event: event[:2]) if said else []
        times_s: list[float] = []
        values: list[Value | None] = []
        standing: Value | None = None
        for frame, kind, value in events:
            if kind in (_SAID, _FORGOTTEN):
                standing = value
            now = None if kind == _STALE else standing
            if not values or values[-1] != now:
                times_s.append(self._times_s[frame])
                values.append(now)
        return times_s, values

    def _doubts(self, signal: Signal) -> Iterator[_Event]:
        """When a signal became too old and was carried again; what ages is forgotten when the clock jumps back."""
        if not signal.max_age_s:
            return
        carriers = tuple(n for n, names in enumerate(self._tape.carried) if signal.name in names)
        for first, end in self._tape.stretches():
            if first:
                yield _Event(first, _FORGOTTEN)
            for lapse in self._ageing.lapses(carriers, signal.max_age_s, first, end):
                yield _Event(lapse.look[0] - 1, _STALE)
                if lapse.back < end:
                    yield _Event(lapse.back, _BACK)


def _places_kept(values: Sequence[Value | None]) -> list[int]:
    """Which of many points to draw: the least and the greatest of each group stay, and where it stops being known."""
    if len(values) <= MOST_POINTS:
        return list(range(len(values)))
    groups = (MOST_POINTS - 1) // _KEPT_OF_EACH
    size = -(-len(values) // groups)
    kept = {len(values) - 1}
    for start in range(0, len(values), size):
        kept.update(_of_group(values, range(start, min(start + size, len(values)))))
    return sorted(kept)


def _of_group(values: Sequence[Value | None], group: range) -> Iterator[int]:
    yield group[0]
    yield from [place for place in group if values[place] is None][:1]
    numbers = {place: value for place in group if isinstance(value := values[place], float | int)}
    if numbers:
        yield min(numbers, key=numbers.__getitem__)
        yield max(numbers, key=numbers.__getitem__)
