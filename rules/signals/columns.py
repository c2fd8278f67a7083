"""Recording as columns: for each signal the steps at which its sample changes, and the new samples.

A step is one moment at which something may change: a frame, a stale check, a request.  Steps are counted from 0
within a segment, which ends where the simulator's clock jumps back.

Takes: arrays.  Gives: `SignalColumn`, one signal; `ColumnSegment`, all signals with the time of each step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.signals.model import Frame, Quality, Sample, Value

IntArray: TypeAlias = NDArray[np.int64]
FloatArray: TypeAlias = NDArray[np.float64]

FRESH, STALE, INVALID = 0, 1, 2
QUALITIES = (Quality.FRESH, Quality.STALE, Quality.INVALID)
NO_WORD = -1
"""Code for a missing word."""


@dataclass(frozen=True, slots=True)
class SignalColumn:
    """Samples of one signal: entry i is valid from step `steps[i]` until the next entry; before the first the signal is absent.

    `quality` is 0 fresh, 1 stale, 2 invalid.  `numbers` contains numbers (NaN where not fresh), `word_codes` the index of a
    word in the segment's `word_codes` (-1 where not fresh); the other of the two is empty.  `raw` contains the original
    values where `numbers` does not preserve value and type exactly: words, whole numbers.

    A beacon that was switched on at step 2 and was stale at step 4; `word_codes` of the segment is {off: 0, on: 1}:

        step          0      1      2      3      4      5
        sample        off    off    on     on     stale  on
        steps         0             2             4      5
        quality       0             0             1      0
        word_codes    0             1             -1     1
    """

    steps: IntArray
    quality: NDArray[np.int8]
    numbers: FloatArray
    word_codes: IntArray
    raw: NDArray[np.object_] | None = None

    def entry_at(self, step: int) -> int:
        """Give the index of the entry that is valid at a step; -1 for none."""
        return int(self.steps.searchsorted(step, "right")) - 1

    def value_at(self, step: int) -> Value | None:
        """Give the fresh value at a step, None where there is none."""
        entry = self.entry_at(step)
        return self.value_of_entry(entry) if entry >= 0 else None

    def value_of_entry(self, entry: int) -> Value | None:
        """Give the fresh value of an entry, None where it is not fresh."""
        if self.quality[entry] != FRESH:
            return None
        if self.raw is None:
            return float(self.numbers[entry])
        found: Value = self.raw[entry]
        return found

    def freshness_changes(self) -> IntArray:
        """Give the steps at which the signal became fresh, or stopped being fresh."""
        fresh = self.quality == FRESH
        before = np.concatenate(([False], fresh[:-1]))
        flips: IntArray = self.steps[fresh != before]
        return flips


@dataclass(slots=True)
class ColumnSegment:
    """Steps of one epoch.

    `sim_s` is the simulator's clock at each step; it never goes back.  `calls` names those made at a step, `requests`
    the requests.  `first_frame` begins the segment.  `empty_steps` are stale checks that find nothing stale.
    `first_frame_number` is the number of the first frame in the log, `frame_steps` the step of each frame.  `gaps` has the
    start of each gap in the data by the step that ends it; it is after the time of the step before.  `gap_records` has the
    number of missing records by the same step, where it is known.
    """

    first_frame: Frame
    sim_s: FloatArray
    columns: dict[str, SignalColumn]
    calls: Mapping[int, tuple[str, ...]]
    requests: Mapping[int, object]
    word_codes: dict[str, int]
    empty_steps: frozenset[int] = frozenset()
    first_frame_number: int = 0
    frame_steps: IntArray = field(default_factory=lambda: np.zeros(1, np.int64))
    gaps: Mapping[int, float] = field(default_factory=dict)
    gap_records: Mapping[int, int] = field(default_factory=dict)

    def __len__(self) -> int:
        """Number of steps."""
        return len(self.sim_s)

    def frame_number_at(self, step: int) -> int:
        """Give the number in the log of the latest frame at a step."""
        return self.first_frame_number + int(self.frame_steps.searchsorted(step, "right")) - 1

    def sample(self, name: str, step: int) -> Sample:
        """Give a signal's sample at a step; a stale one has its last value."""
        column = self.columns.get(name)
        entry = column.entry_at(step) if column is not None else -1
        if column is None or entry < 0:
            return Sample(name, None, Quality.ABSENT, float(self.sim_s[step]))
        quality = QUALITIES[int(column.quality[entry])]
        value = column.value_of_entry(entry - 1 if quality is Quality.STALE else entry)
        return Sample(name, value, quality, float(self.sim_s[column.steps[entry]]))

    def first_fresh_s(self, name: str) -> float:
        """Time at which a signal was first fresh, infinity for never; of several steps at one time the last counts."""
        column = self.columns.get(name)
        if column is None or not len(column.steps):
            return float("inf")
        times = self.sim_s[column.steps]
        last = np.concatenate((times[1:] != times[:-1], [True]))
        fresh = np.flatnonzero(last & (column.quality == FRESH))
        return float(times[fresh[0]]) if len(fresh) else float("inf")


def word_code(word: Value | None, codes: dict[str, int]) -> int:
    """Give the code of a word; a new word gets a new code."""
    return codes.setdefault(str(word), len(codes)) if word is not None else NO_WORD


def figure_column(at: IntArray, number: FloatArray) -> SignalColumn:
    """Build a column of computed numbers; NaN is invalid."""
    known = ~np.isnan(number)
    quality = np.where(known, FRESH, INVALID).astype(np.int8)
    return SignalColumn(at, quality, number, np.empty(0, np.int64))
