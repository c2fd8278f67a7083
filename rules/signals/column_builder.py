"""From a tape to columns: what `State` makes of frames one by one, made of all of them at once.

What no link of ours does is refused as `Unusual` (a frame that changes what it does not carry, or the same signal twice):
whoever has such a recording folds it frame by frame.

Takes: a tape, the signals.  Gives: `Folded`, from which stretches are cut.
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
from rules.signals.input_log import InputLog, StaleCheck
from rules.signals.model import Frame, Signal, SignalKind, Value
from rules.signals.staleness import CheckPosition, StaleFinder, StaleInterval
from rules.signals.state import is_valid, value_range

AmendedValues = Callable[[object], Mapping[str, Value]]
"""The papers that a request brings; none where it brings none."""

_MAX_NAME_SETS = 200
_NO_CODES = np.empty(0, np.int64)
_NO_NUMBERS = np.empty(0)


class NotColumnar(Exception):  # noqa: N818 - it says of the tape what it is
    """This tape cannot be made into columns; it has to be folded frame by frame."""


class MixedValues(NamedTuple):
    """Values one after the other: the floats, and by their place those that are something else (None: not fresh)."""

    floats: FloatArray
    others: dict[int, Value | None]

    def to_list(self) -> list[Value | None]:
        """All of them."""
        values: list[Value | None] = self.floats.tolist()
        for entry, value in self.others.items():
            values[entry] = value
        return values


def mixed_values(values: Sequence[Value | None]) -> MixedValues:
    """These values."""
    odd = {entry: value for entry, value in enumerate(values) if type(value) is not float}
    return MixedValues(
        np.array([value if type(value) is float else np.nan for value in values], np.float64), odd
    )


class ColumnBuilder:
    """A tape whose samples stand in the order of the signals."""

    def __init__(self, log: InputLog, signals: Mapping[str, Signal]) -> None:
        """Sort once for the whole tape.

        Raises:
            Unusual: It holds what only folding frame by frame does right.
        """
        self.log, self.signals = log, signals
        self.stale_finder = StaleFinder(log)
        self._signal_ids = {name: number for number, name in enumerate(signals)}
        ids = np.fromiter(map(self._signal_ids.get, log.names, repeat(-1)), np.int16, len(log.names))
        counts = np.array(log.counts, np.int64)
        self._check_columnar(ids, np.repeat(np.array(log.name_set_ids, np.int64), counts))
        self._permutation = order = np.argsort(ids, kind="stable")
        self._frames = np.repeat(np.arange(len(counts)), counts)[order]
        self._floats = np.frombuffer(log.floats)[order] if len(order) else np.empty(0)
        self._signal_ends = np.searchsorted(ids[order], np.arange(len(signals) + 1))
        self._is_other = np.zeros(len(order), bool)
        self._is_other[list(log.others)] = True
        self._signals_with_others = set(ids[list(log.others)].tolist())
        self.carriers = self._find_carriers()

    def _check_columnar(self, ids: NDArray[np.int16], name_set_ids: IntArray) -> None:
        """A change is always of a name that the frame carries."""
        names, width = list(self.signals), len(self.signals) + 1
        if len(self.log.name_sets) > _MAX_NAME_SETS:
            raise NotColumnar("too many different sets of names")
        seen = np.bincount(name_set_ids * width + ids + 1, minlength=len(self.log.name_sets) * width)
        for number, carried in enumerate(self.log.name_sets):
            changed = np.flatnonzero(seen[number * width + 1 : (number + 1) * width])
            if not {names[n] for n in changed.tolist()} <= set(carried):
                raise NotColumnar("a frame changes what it does not carry")

    def _find_carriers(self) -> dict[str, tuple[int, ...]]:
        """The bundles that carry each name."""
        found: dict[str, tuple[int, ...]] = {}
        for number, carried in enumerate(self.log.name_sets):
            for name in dict.fromkeys(carried):
                found[name] = (*found.get(name, ()), number)
        return found

    def values_of(self, name: str, first: int, end: int) -> tuple[IntArray, MixedValues]:
        """What the frames of a stretch say of a signal: their numbers and the values."""
        number = self._signal_ids[name]
        begin, stop = int(self._signal_ends[number]), int(self._signal_ends[number + 1])
        begin, stop = (begin + np.searchsorted(self._frames[begin:stop], (first, end))).tolist()
        said = MixedValues(self._floats[begin:stop], {})
        if number in self._signals_with_others:
            places = self._permutation[begin:stop]
            for entry in np.flatnonzero(self._is_other[places]).tolist():
                said.others[entry] = self.log.others[int(places[entry])]
        return self._frames[begin:stop], said

    def build_segment(
        self,
        first: int,
        end: int,
        initial: Mapping[str, Value | None],
        amended_values: AmendedValues = lambda _: {},
    ) -> ColumnSegment:
        """The columns of the frames from `first` up to `end`.

        Args:
            first: The frame that begins the stretch.
            end: The one after its last.
            initial: What stands at its beginning: papers, and what does not age; None where that is not valid.
            amended_values: What a request amends.
        """
        return _SegmentBuilder(self, first, end).build(initial, amended_values)


class _SegmentBuilder:
    """Makes one stretch."""

    def __init__(self, builder: ColumnBuilder, first: int, end: int) -> None:
        self._builder, self._log, self._first, self._end = builder, builder.log, first, end
        self._word_codes: dict[str, int] = {}
        self._stale_intervals = self._find_stale_intervals()
        self._check_steps: dict[CheckPosition, int] = {}
        self._requests: dict[int, object] = {}
        self._effective_checks: set[int] = set()
        self._steps = self._number_steps()
        self._sim_s = self._clock()

    def _find_stale_intervals(self) -> dict[tuple[tuple[int, ...], float], list[StaleInterval]]:
        """By bundles and age, what is too old and when."""
        signals, carriers = self._builder.signals, self._builder.carriers
        kinds = {(c, signals[name].max_age_s) for name, c in carriers.items() if name in signals}
        lapses = self._builder.stale_finder.stale_intervals
        return {kind: lapses(*kind, self._first, self._end) for kind in kinds if kind[1] > 0}

    def _number_steps(self) -> IntArray:
        """Number the steps: one for each frame, each request, and each look that finds something too old.

        Returns:
            The step of each frame.
        """
        late = {lapse.check for lapses in self._stale_intervals.values() for lapse in lapses}
        numbers = {n for n in self._log.events_before if self._first < n <= self._end} | {n for n, _ in late}
        steps, taken, plain = np.empty(self._end - self._first, np.int64), 0, self._first
        for number in sorted(numbers):
            steps[plain - self._first : number - self._first] = np.arange(taken, taken + number - plain)
            taken, plain = self._number_between(number, late, taken + number - plain), number
        steps[plain - self._first :] = np.arange(taken, taken + self._end - plain)
        self._step_count = taken + self._end - plain
        return steps

    def _number_between(self, number: int, late: set[CheckPosition], next_step: int) -> int:
        """Number what comes before a frame; gives the next step."""
        marks = self._log.events_before.get(number, ())
        for place, mark in enumerate(marks):
            if not isinstance(mark, StaleCheck):
                self._requests[next_step] = mark
                next_step += 1
            elif (number, place) in late:
                self._check_steps[number, place] = next_step
                next_step += 1
        if (number, len(marks)) in late:
            self._check_steps[number, len(marks)] = next_step
            next_step += 1
        return next_step

    def _clock(self) -> NDArray[np.float64]:
        """The simulator's clock at each step: that of the frames so far, never back."""
        sim_s = np.full(self._step_count, -np.inf)
        sim_s[self._steps] = self._log.sim_s[self._first : self._end]
        return np.maximum.accumulate(sim_s)

    def build(self, initial: Mapping[str, Value | None], amended_values: AmendedValues) -> ColumnSegment:
        """All of it."""
        amended: dict[str, list[tuple[int, Value]]] = {}
        for step, mark in self._requests.items():
            for name, value in amended_values(mark).items():
                amended.setdefault(name, []).append((step, value))
        columns = {
            name: column
            for name, signal in self._builder.signals.items()
            if (column := self._build_column(signal, initial, amended.get(name, ()))) is not None
        }
        tape, first = self._log, self._first
        calls = {
            int(self._steps[number - first]): calls
            for number, calls in tape.calls.items()
            if first <= number < self._end
        }
        frame = Frame("", tape.sim_s[first], tape.recv_s[first], tape.epochs[first], (), ())
        idle = frozenset(self._check_steps.values()) - self._effective_checks
        return ColumnSegment(
            frame, self._sim_s, columns, calls, self._requests, self._word_codes, idle, first, self._steps
        )

    def _build_column(
        self, signal: Signal, initial: Mapping[str, Value | None], amended: Iterable[tuple[int, Value]]
    ) -> SignalColumn | None:
        """One signal's column; None where nobody speaks of it."""
        frames, said = self._builder.values_of(signal.name, self._first, self._end)
        at = self._steps[frames - self._first]
        if np.any(at[1:] == at[:-1]):
            raise NotColumnar(f"a frame says {signal.name} twice")
        extra = [(0, initial[signal.name])] if signal.name in initial else []
        if extra or amended:
            at, said = _merge_values(at, said, extra, list(amended))
        if not len(at):
            return None
        lapses = self._stale_intervals.get(
            (self._builder.carriers.get(signal.name, ()), signal.max_age_s), ()
        )
        column = (
            _number_column(signal, at, said)
            if signal.is_numeric
            else _word_column(signal, at, said, self._word_codes)
        )
        return self._mark_stale(column, lapses) if lapses else column

    def _mark_stale(self, column: SignalColumn, stale_intervals: Sequence[StaleInterval]) -> SignalColumn:
        """With the times for which it is too old."""
        entries = [(int(step), 0, entry, FRESH) for entry, step in enumerate(column.steps.tolist())]
        for lapse in stale_intervals:
            look = self._check_steps[lapse.check]
            entry = column.entry_at(look)
            if entry < 0 or column.quality[entry] != FRESH:
                continue
            entries.append((look, 0, entry, STALE))
            self._effective_checks.add(look)
            back = (
                int(self._steps[lapse.renewed_at_frame - self._first])
                if lapse.renewed_at_frame < self._end
                else -1
            )
            if back >= 0 and column.entry_at(back) == entry:
                entries.append((back, 0, entry, FRESH))
        entries.sort()
        return _select_entries(column, entries)


def _select_entries(column: SignalColumn, entries: list[tuple[int, int, int, int]]) -> SignalColumn:
    """The column with these entries of it, some of them stale."""
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
    """With what stands at the beginning and what requests bring; of two for one step the later counts."""
    pairs = [*initial, *zip(at.tolist(), values.to_list(), strict=True), *amended]
    last = dict(sorted(pairs, key=lambda pair: pair[0]))
    return np.array(list(last), np.int64), mixed_values(list(last.values()))


def _number_column(signal: Signal, at: IntArray, values: MixedValues) -> SignalColumn:
    """The column of a number: each entry other than the one before, and invalid where the signal cannot have it."""
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
    kept = np.flatnonzero(np.append(True, other))
    quality = np.where(fresh[kept], FRESH, INVALID).astype(np.int8)
    return SignalColumn(at[kept], quality, number[kept], _NO_CODES, None if raw is None else raw[kept])


def _word_column(signal: Signal, at: IntArray, values: MixedValues, codes: dict[str, int]) -> SignalColumn:
    """The column of a word, likewise."""
    good = [value if is_valid(signal, value) else None for value in values.to_list()]
    code = np.array([word_code(value, codes) for value in good], np.int64)
    kept = np.flatnonzero(np.append(True, code[1:] != code[:-1]))
    raw = np.empty(len(kept), object)
    raw[:] = [good[entry] for entry in kept.tolist()]
    quality = np.where(code[kept] != NO_WORD, FRESH, INVALID).astype(np.int8)
    return SignalColumn(at[kept], quality, _NO_NUMBERS, code[kept], raw)
