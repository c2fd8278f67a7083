"""The samples of some signals over a session, with the times at which they were missing, invalid or too old.

Takes: an input log, the signals.  Gives: `Samples`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from bridge.debrief.gaps import break_steps
from bridge.debrief.model import DataGap
from bridge.debrief.time_axis import TimeAxis
from rules.signals.input_log import InputLog
from rules.signals.model import Signal, Value, is_valid
from rules.signals.stale_intervals import StaleFinder

MAX_POINTS = 600
_POINTS_PER_GROUP = 4
"""Of each group: the first point, the first unknown one, the minimum and the maximum."""
_CLEARED, _RECOVERED, _UPDATED, _STALE = range(4)
"""Events of a signal; within one frame they apply in this order."""


class _Event(NamedTuple):
    frame: int
    kind: int
    value: Value | None = None


class Samples:
    """The changes of some signals; None while a value is missing, invalid or too old.

    Attributes:
        gaps: the times for which the recording has no data.
    """

    def __init__(self, input_log: InputLog, axis: TimeAxis, signals: Mapping[str, Signal]) -> None:
        """Read the signals in one pass.

        Args:
            input_log: the recorded inputs.
            axis: the times of its frames.
            signals: the signals by their names.
        """
        self._input_log, self._stale_finder = input_log, StaleFinder(input_log)
        self._times_s: list[float] = axis.times_s.tolist()
        self.gaps = tuple(self._find_gaps())
        updates: dict[str, list[_Event]] = {name: [] for name in signals}
        start = 0
        for frame, count in enumerate(input_log.counts):
            for index in range(start, start + count):
                name = input_log.names[index]
                if name in updates:
                    value = input_log.others[index] if index in input_log.others else input_log.floats[index]
                    valid = value if is_valid(signals[name], value) else None
                    updates[name].append(_Event(frame, _UPDATED, valid))
            start += count
        self._changes = {
            name: break_steps(*self._value_changes(signal, updates[name]), self.gaps)
            for name, signal in signals.items()
        }

    def between(self, name: str, from_s: float, to_s: float) -> tuple[list[float], list[Value | None]]:
        """The times and values of a signal in a window, thinned to `MAX_POINTS`.

        Args:
            name: the signal.
            from_s: the start of the window, at which the earlier value is repeated.
            to_s: the end of the window.
        """
        times_s, values = self._changes[name]
        first, last = bisect_right(times_s, from_s), bisect_left(times_s, to_s)
        window_s = [from_s, *times_s[first:last]] if first else times_s[first:last]
        window = [values[first - 1], *values[first:last]] if first else values[first:last]
        indexes = _thinned(window)
        return [window_s[index] for index in indexes], [window[index] for index in indexes]

    def _find_gaps(self) -> Iterator[DataGap]:
        """Find the gaps in the inputs, on the session's axis: each ends with the frame that says when it began."""
        for frame, missing_from_s in self._input_log.gaps.items():
            to_s, length_s = self._times_s[frame], self._input_log.sim_s[frame] - missing_from_s
            if frame:
                yield DataGap(max(to_s - length_s, self._times_s[frame - 1]), to_s, missing_from_s)

    def _value_changes(self, signal: Signal, updates: list[_Event]) -> tuple[list[float], list[Value | None]]:
        """The changes of a signal's known value: their times and values.

        A stale signal is None, and gets its last value back as soon as a frame carries its name again:

            events   updated on   stale   recovered   updated off
            values   on           None    on          off
        """
        events = (
            sorted([*updates, *self._stale_events(signal)], key=lambda event: event[:2]) if updates else []
        )
        times_s: list[float] = []
        values: list[Value | None] = []
        last: Value | None = None
        for frame, kind, value in events:
            if kind in (_UPDATED, _CLEARED):
                last = value
            known = None if kind == _STALE else last
            if not values or values[-1] != known:
                times_s.append(self._times_s[frame])
                values.append(known)
        return times_s, values

    def _stale_events(self, signal: Signal) -> Iterator[_Event]:
        """The frames at which a signal became too old or was carried again; a jump of the clock clears it."""
        if not signal.max_age_s:
            return
        carriers = tuple(n for n, names in enumerate(self._input_log.name_sets) if signal.name in names)
        for first, end in self._input_log.epoch_ranges():
            if first:
                yield _Event(first, _CLEARED)
            for stale in self._stale_finder.stale_intervals(carriers, signal.max_age_s, first, end):
                if stale.resumed:
                    continue  # the sender went on where it had stopped: no time is without data
                yield _Event(stale.check[0] - 1, _STALE)
                if stale.renewed_at_frame < end:
                    yield _Event(stale.renewed_at_frame, _RECOVERED)


def _thinned(values: Sequence[Value | None]) -> list[int]:
    """The indexes of at most `MAX_POINTS` points; each group keeps its minimum, its maximum and its first unknown value."""
    if len(values) <= MAX_POINTS:
        return list(range(len(values)))
    groups = (MAX_POINTS - 1) // _POINTS_PER_GROUP  # one point is the last value, which must stay
    size = -(-len(values) // groups)
    indexes = {len(values) - 1}
    for start in range(0, len(values), size):
        indexes.update(_group_extremes(values, range(start, min(start + size, len(values)))))
    return sorted(indexes)


def _group_extremes(values: Sequence[Value | None], group: range) -> Iterator[int]:
    yield group[0]
    yield from [index for index in group if values[index] is None][:1]
    numbers = {index: value for index in group if isinstance(value := values[index], float | int)}
    if numbers:
        yield min(numbers, key=numbers.__getitem__)
        yield max(numbers, key=numbers.__getitem__)
