"""Converts an input log to columns: one array of times and values for each signal, for all frames at once.

Inputs that our links never produce raise `NotColumnar` (a frame that changes a signal that it does not carry,
or the same signal twice): fold such a recording frame by frame.

Takes: an input log and the signals.  Gives: `ColumnBuilder`, which builds segments of columns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import repeat
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rules.signals.columns import (
    FRESH,
    INVALID,
    NO_WORD,
    STALE,
    ColumnSegment,
    FloatArray,
    IntArray,
    SignalColumn,
    word_code,
)
from rules.signals.input_log import InputLog, NotColumnar, StaleCheck
from rules.signals.model import Frame, Signal, SignalKind, Value, is_valid, value_range
from rules.signals.stale_intervals import CheckPosition, StaleFinder, StaleInterval

AmendedValues = Callable[[object], Mapping[str, Value]]
"""Gives the trip sheet values that a request changes; empty where it changes none."""

_MAX_NAME_SETS = 200
_NO_CODES = np.empty(0, np.int64)
_NO_NUMBERS = np.empty(0)


class MixedValues(NamedTuple):
    """Values in sequence: floats in one array, other values by their position (None: not fresh)."""

    floats: FloatArray
    others: dict[int, Value | None]

    def to_list(self) -> list[Value | None]:
        """List all values in order."""
        values: list[Value | None] = self.floats.tolist()
        for entry, value in self.others.items():
            values[entry] = value
        return values


def mixed_values(values: Sequence[Value | None]) -> MixedValues:
    """Split values into floats and others."""
    odd = {entry: value for entry, value in enumerate(values) if type(value) is not float}
    return MixedValues(
        np.array([value if type(value) is float else np.nan for value in values], np.float64), odd
    )


class ColumnBuilder:
    """Input log whose samples are sorted by signal."""

    def __init__(self, log: InputLog, signals: Mapping[str, Signal]) -> None:
        """Sort the samples once for the whole log.

        Raises:
            NotColumnar: The log contains inputs that only frame-by-frame folding handles correctly.
        """
        self.log, self.signals = log, signals
        self.stale_finder = StaleFinder(log)
        self._signal_ids = {name: number for number, name in enumerate(signals)}
        ids = np.fromiter(map(self._signal_ids.get, log.names, repeat(-1)), np.int16, len(log.names))
        counts = np.array(log.counts, np.int64)
        self._check_columnar(ids, np.repeat(np.array(log.name_set_ids, np.int64), counts))
        # The log has the samples frame by frame.  A stable sort by signal puts those of one signal together and leaves them
        # in the order of their frames:
        #
        #     log             frame 0          frame 1    frame 2
        #                     n1 20, beacon off   n1 21   beacon on
        #     ids             0      1            0       1
        #     permutation     0, 2, 1, 3
        #     values          20, 21      off, on
        #     frames          0,  1       0,   2
        #     signal_ends     0           2           4         signal i: from ends[i] up to ends[i + 1]
        self._permutation = order = np.argsort(ids, kind="stable")
        self._frames = np.repeat(np.arange(len(counts)), counts)[order]
        self._floats = np.frombuffer(log.floats)[order] if len(order) else np.empty(0)
        self._signal_ends = np.searchsorted(ids[order], np.arange(len(signals) + 1))
        self._is_other = np.zeros(len(order), bool)
        self._is_other[list(log.others)] = True
        self._signals_with_others = set(ids[list(log.others)].tolist())
        self.carriers = self._find_carriers()

    def _check_columnar(self, ids: NDArray[np.int16], name_set_ids: IntArray) -> None:
        """Check that each frame changes only signals that it carries."""
        names, width = list(self.signals), len(self.signals) + 1
        if len(self.log.name_sets) > _MAX_NAME_SETS:
            raise NotColumnar("too many different sets of names")
        seen = np.bincount(name_set_ids * width + ids + 1, minlength=len(self.log.name_sets) * width)
        for number, carried in enumerate(self.log.name_sets):
            changed = np.flatnonzero(seen[number * width + 1 : (number + 1) * width])
            if not {names[n] for n in changed.tolist()} <= set(carried):
                raise NotColumnar("a frame changes what it does not carry")

    def _find_carriers(self) -> dict[str, tuple[int, ...]]:
        """Map each signal to the name sets that contain it."""
        found: dict[str, tuple[int, ...]] = {}
        for number, carried in enumerate(self.log.name_sets):
            for name in dict.fromkeys(carried):
                found[name] = (*found.get(name, ()), number)
        return found

    def values_of(self, name: str, first: int, end: int) -> tuple[IntArray, MixedValues]:
        """Give the frame numbers and values of a signal between two frames."""
        number = self._signal_ids[name]
        begin, stop = int(self._signal_ends[number]), int(self._signal_ends[number + 1])
        begin, stop = (begin + np.searchsorted(self._frames[begin:stop], (first, end))).tolist()
        values = MixedValues(self._floats[begin:stop], {})
        if number in self._signals_with_others:
            places = self._permutation[begin:stop]
            for entry in np.flatnonzero(self._is_other[places]).tolist():
                values.others[entry] = self.log.others[int(places[entry])]
        return self._frames[begin:stop], values

    def build_segment(
        self,
        first: int,
        end: int,
        initial: Mapping[str, Value | None],
        amended_values: AmendedValues = lambda _: {},
    ) -> ColumnSegment:
        """Build the columns of the frames from `first` up to `end`.

        Args:
            first: The first frame of the segment.
            end: The frame after its last.
            initial: Values at its beginning: the trip sheet and signals without an age limit; None where not valid.
            amended_values: Gives the trip sheet values that a request changes.
        """
        return _SegmentBuilder(self, first, end).build(initial, amended_values)


class _SegmentBuilder:
    """Builds one segment."""

    def __init__(self, builder: ColumnBuilder, first: int, end: int) -> None:
        self._builder, self._log, self._first, self._end = builder, builder.log, first, end
        self._word_codes: dict[str, int] = {}
        self._stale_intervals = self._find_stale_intervals()
        self._check_steps: dict[CheckPosition, int] = {}
        self._resume_steps: dict[int, int] = {}
        self._requests: dict[int, object] = {}
        self._effective_steps: set[int] = set()
        self._steps = self._number_steps()
        self._sim_s = self._clock()

    def _find_stale_intervals(self) -> dict[tuple[tuple[int, ...], float], list[StaleInterval]]:
        """Find the stale intervals, by name sets and age limit."""
        signals, carriers = self._builder.signals, self._builder.carriers
        kinds = {(c, signals[name].max_age_s) for name, c in carriers.items() if name in signals}
        find = self._builder.stale_finder.stale_intervals
        return {kind: find(*kind, self._first, self._end) for kind in kinds if kind[1] > 0}

    def _number_steps(self) -> IntArray:
        """Number the steps: one for each frame, each request, each stale check that finds a stale signal, and each end of a stall.

        Returns:
            The step of each frame.
        """
        # Between frames 1 and 2 came a check that found nothing, a request, and a check that found a stale signal:
        #
        #     log       frame 0   frame 1   check   request   check   frame 2   frame 3
        #     step      0         1         none    2         3       4         5
        #     returned  0, 1, 4, 5
        #
        # Frames between two such places are numbered at once (`plain` is the first that has no number yet).
        stale = [interval for intervals in self._stale_intervals.values() for interval in intervals]
        late = {interval.check for interval in stale}
        self._resumed = {interval.renewed_at_frame for interval in stale if interval.resumed}
        numbers = {n for n in self._log.events_before if self._first < n <= self._end} | {n for n, _ in late}
        steps, next_step, plain = np.empty(self._end - self._first, np.int64), 0, self._first
        for number in sorted(numbers):
            steps[plain - self._first : number - self._first] = np.arange(
                next_step, next_step + number - plain
            )
            next_step, plain = self._number_between(number, late, next_step + number - plain), number
        steps[plain - self._first :] = np.arange(next_step, next_step + self._end - plain)
        self._step_count = next_step + self._end - plain
        return steps

    def _number_between(self, number: int, late: set[CheckPosition], next_step: int) -> int:
        """Number the events before a frame; gives the next free step."""
        events = self._log.events_before.get(number, ())
        for place, event in enumerate(events):
            if not isinstance(event, StaleCheck):
                self._requests[next_step] = event
                next_step += 1
            elif (number, place) in late:
                self._check_steps[number, place] = next_step
                next_step += 1
        if number in self._resumed:
            self._resume_steps[number] = next_step
            next_step += 1
        if (number, len(events)) in late:
            self._check_steps[number, len(events)] = next_step
            next_step += 1
        return next_step

    def _clock(self) -> NDArray[np.float64]:
        """Compute the simulator's clock at each step: the maximum of the frames so far."""
        sim_s = np.full(self._step_count, -np.inf)
        sim_s[self._steps] = self._log.sim_s[self._first : self._end]
        return np.maximum.accumulate(sim_s)

    def build(self, initial: Mapping[str, Value | None], amended_values: AmendedValues) -> ColumnSegment:
        """Build the segment."""
        amended: dict[str, list[tuple[int, Value]]] = {}
        for step, request in self._requests.items():
            for name, value in amended_values(request).items():
                amended.setdefault(name, []).append((step, value))
        columns = {
            name: column
            for name, signal in self._builder.signals.items()
            if (column := self._build_column(signal, initial, amended.get(name, ()))) is not None
        }
        log, first = self._log, self._first
        calls = {
            int(self._steps[number - first]): calls
            for number, calls in log.calls.items()
            if first <= number < self._end
        }
        frame = Frame("", log.sim_s[first], log.recv_s[first], log.epochs[first], (), ())
        idle = frozenset((*self._check_steps.values(), *self._resume_steps.values())) - self._effective_steps
        return ColumnSegment(
            frame,
            self._sim_s,
            columns,
            calls,
            self._requests,
            self._word_codes,
            idle,
            first,
            self._steps,
            self._find_gaps(),
            self._find_gap_records(),
        )

    def _find_gaps(self) -> dict[int, float]:
        """Find the gaps in the data: the start of each, by the step that ends it; none before the first frame."""
        gaps: dict[int, float] = {}
        for number, missing_from_s in self._log.gaps.items():
            if self._first < number < self._end:
                step = int(self._steps[number - self._first])
                start_s = max(missing_from_s, float(self._sim_s[step - 1]))
                if start_s < self._sim_s[step]:
                    gaps[step] = start_s
        return gaps

    def _find_gap_records(self) -> dict[int, int]:
        """Find the numbers of missing records, by the step that ends their gap."""
        return {
            int(self._steps[number - self._first]): records
            for number, records in self._log.gap_records.items()
            if self._first < number < self._end
        }

    def _build_column(
        self, signal: Signal, initial: Mapping[str, Value | None], amended: Iterable[tuple[int, Value]]
    ) -> SignalColumn | None:
        """Build one signal's column; None where no frame carries it."""
        frames, values = self._builder.values_of(signal.name, self._first, self._end)
        at = self._steps[frames - self._first]
        if np.any(at[1:] == at[:-1]):
            raise NotColumnar(f"a frame has two values for {signal.name}")
        extra = [(0, initial[signal.name])] if signal.name in initial else []
        if extra or amended:
            at, values = _merge_values(at, values, extra, list(amended))
        if not len(at):
            return None
        intervals = self._stale_intervals.get(
            (self._builder.carriers.get(signal.name, ()), signal.max_age_s), ()
        )
        column = (
            _number_column(signal, at, values)
            if signal.is_numeric
            else _word_column(signal, at, values, self._word_codes)
        )
        return self._mark_stale(column, intervals) if intervals else column

    def _mark_stale(self, column: SignalColumn, stale_intervals: Sequence[StaleInterval]) -> SignalColumn:
        """Insert the stale intervals into a column."""
        # A column has changes only.  Where a frame carries the same value again after a stale interval, the entry before the
        # interval is inserted once more; where it carries another value, the column has its entry already:
        #
        #     step        0         3             5            9
        #     happens     n1 20     check: stale  n1 20 again  n1 21
        #     column      20                                   21
        #     inserted              stale         20
        entries = [(int(step), 0, entry, FRESH) for entry, step in enumerate(column.steps.tolist())]
        for interval in stale_intervals:
            check_step = self._check_steps[interval.check]
            entry = column.entry_at(check_step)
            if entry < 0 or column.quality[entry] != FRESH:
                continue
            entries.append((check_step, 0, entry, STALE))
            self._effective_steps.add(check_step)
            renewed_step = self._renewed_step(interval)
            if interval.resumed:
                self._effective_steps.add(renewed_step)
            if renewed_step >= 0 and column.entry_at(renewed_step) == entry:
                entries.append((renewed_step, 0, entry, FRESH))
        entries.sort()
        return _select_entries(column, entries)

    def _renewed_step(self, interval: StaleInterval) -> int:
        """Give the step at which a signal is fresh again; -1 for none."""
        number = interval.renewed_at_frame
        if interval.resumed:
            return self._resume_steps[number]
        return int(self._steps[number - self._first]) if number < self._end else -1


def _select_entries(column: SignalColumn, entries: list[tuple[int, int, int, int]]) -> SignalColumn:
    """Select entries of a column, some of them stale."""
    steps, _, picks, states = (np.array(part, np.int64) for part in zip(*entries, strict=True))
    stale = states == STALE
    quality = np.where(stale, STALE, column.quality[picks]).astype(np.int8)
    number = np.where(stale, np.nan, column.numbers[picks]) if len(column.numbers) else column.numbers
    code = np.where(stale, NO_WORD, column.word_codes[picks]) if len(column.word_codes) else column.word_codes
    return SignalColumn(steps, quality, number, code, None if column.raw is None else column.raw[picks])


def _merge_values(
    at: IntArray,
    values: MixedValues,
    initial: Sequence[tuple[int, Value | None]],
    amended: Sequence[tuple[int, Value]],
) -> tuple[IntArray, MixedValues]:
    """Merge the initial values and the changes by requests; of two for one step the later counts."""
    pairs = [*initial, *zip(at.tolist(), values.to_list(), strict=True), *amended]
    last = dict(sorted(pairs, key=lambda pair: pair[0]))
    return np.array(list(last), np.int64), mixed_values(list(last.values()))


def _number_column(signal: Signal, at: IntArray, values: MixedValues) -> SignalColumn:
    """Build the column of a number: only changes, invalid where the signal cannot have the value."""
    number, raw = values.floats, None
    if any(value is not None for value in values.others.values()):
        good = [value if is_valid(signal, value) else None for value in values.to_list()]
        raw = np.empty(len(good), object)
        raw[:] = good
        number = np.array(good, np.float64)
    low, high = value_range(signal)
    fresh = (number >= low) & (number <= high) & (np.abs(number) < np.inf)
    if signal.kind is SignalKind.COUNT:
        fresh &= number == np.trunc(number)
    number = np.where(fresh, number, np.nan)
    other = (number[1:] != number[:-1]) & (fresh[1:] | fresh[:-1])
    changes = np.flatnonzero(np.append(True, other))
    quality = np.where(fresh[changes], FRESH, INVALID).astype(np.int8)
    return SignalColumn(
        at[changes], quality, number[changes], _NO_CODES, None if raw is None else raw[changes]
    )


def _word_column(signal: Signal, at: IntArray, values: MixedValues, codes: dict[str, int]) -> SignalColumn:
    """Build the column of a word: only changes, invalid where the signal cannot have the value."""
    good = [value if is_valid(signal, value) else None for value in values.to_list()]
    code = np.array([word_code(value, codes) for value in good], np.int64)
    changes = np.flatnonzero(np.append(True, code[1:] != code[:-1]))
    raw = np.empty(len(changes), object)
    raw[:] = [good[entry] for entry in changes.tolist()]
    quality = np.where(code[changes] != NO_WORD, FRESH, INVALID).astype(np.int8)
    return SignalColumn(at[changes], quality, _NO_NUMBERS, code[changes], raw)
