"""Lines: numbers that are constant from one point of a recording to the next.

A point is a step, or a time before a step at which a window lets go of something.  `key` is twice the step, plus one for
the step itself; points of one key before a step are told apart by `time_s`.

Takes: keys, times and values.  Gives: `Line`, and lines brought to the same points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.signals.columns import Real, Whole

Truths: TypeAlias = NDArray[np.int8]
UNKNOWN = -1
"""In arrays of truths: 1 true, 0 false, -1 unknown."""


@dataclass(frozen=True, slots=True)
class Line:
    """The value from each point on; not a number where unknown, and before the first point.

    `time_s` is None where every point is a step.
    """

    key: Whole
    value: Real
    time_s: Real | None = None

    def times_s(self, sim_s: Real) -> Real:
        """When each point is."""
        return sim_s[self.key >> 1] if self.time_s is None else self.time_s

    def at_step(self, step: int) -> float:
        """The value that a step leaves."""
        entry = int(self.key.searchsorted(2 * step + 1, "right")) - 1
        return float(self.value[entry]) if entry >= 0 else float("nan")


def step_line(at: Whole, value: Real) -> Line:
    """A line of steps."""
    return Line(2 * at + 1, value)


def together(lines: Sequence[Line], sim_s: Real) -> tuple[Whole, Real | None, list[Real]]:
    """Bring lines to the same points.

    Returns:
        The keys, the times (None where all are steps), and the values of each line.
    """
    if len(lines) == 1:
        return lines[0].key, lines[0].time_s, [lines[0].value]
    if all(line.time_s is None for line in lines):
        return _steps_together(lines, len(sim_s))
    times = [line.times_s(sim_s) for line in lines]
    keys = np.concatenate([line.key for line in lines])
    all_s = np.concatenate(times)
    order = np.lexsort((all_s, keys))
    keys, all_s = keys[order], all_s[order]
    new = np.append(True, (keys[1:] != keys[:-1]) | (all_s[1:] != all_s[:-1]))
    keys, all_s = keys[new], all_s[new]
    values = [_found(line, at_s, keys, all_s) for line, at_s in zip(lines, times, strict=True)]
    return keys, all_s, values


def _steps_together(lines: Sequence[Line], steps: int) -> tuple[Whole, None, list[Real]]:
    """Lines of steps: every step where they have many points, else those that one of them has."""
    if sum(len(line.key) for line in lines) > steps // 2:
        keys = 2 * np.arange(steps, dtype=np.int64) + 1
        return keys, None, [_spread(line, steps) for line in lines]
    keys = np.unique(np.concatenate([line.key for line in lines]))
    return keys, None, [_taken(line, line.key.searchsorted(keys, "right") - 1) for line in lines]


def _spread(line: Line, steps: int) -> Real:
    """The value at every step."""
    at = np.append(line.key >> 1, steps)
    before = np.full(int(at[0]), np.nan)
    return np.concatenate((before, np.repeat(line.value, np.diff(at))))


def _taken(line: Line, entries: Whole) -> Real:
    """The values of these entries; -1 stands before the first."""
    return np.append(line.value, np.nan)[entries]


def _found(line: Line, at_s: Real, keys: Whole, times_s: Real) -> Real:
    """A line's value at each of these points."""
    entries = line.key.searchsorted(keys, "right") - 1
    between = (keys & 1) == 0
    entries[between] = at_s.searchsorted(times_s[between], "right") - 1
    return _taken(line, entries)


def settled(line: Line) -> Line:
    """Without the points at which nothing changes."""
    value = line.value
    other = (value[1:] != value[:-1]) & ~(np.isnan(value[1:]) & np.isnan(value[:-1]))
    kept = np.append(True, other) if len(value) else np.zeros(0, bool)
    return Line(line.key[kept], value[kept], None if line.time_s is None else line.time_s[kept])
