"""From a tape to columns: what `State` makes of frames one by one, made of all of them at once.

What no link of ours does is refused as `Unusual` (a frame that changes what it does not carry, or the same signal twice):
whoever has such a recording folds it frame by frame.

Takes: a tape, the signals.  Gives: `Folded`, from which stretches are cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import repeat

import numpy as np
from numpy.typing import NDArray

from rules.signals.ageing import Ageing, Lapse, Place
from rules.signals.columns import FRESH, INVALID, STALE, Column, Stretch, Whole, only, word_code
from rules.signals.model import Frame, Kind, Signal, Value
from rules.signals.state import bearable, span
from rules.signals.tape import Look, Tape

Papers = Callable[[object], Mapping[str, Value]]
"""The papers that a request brings; none where it brings none."""

_MOST_PAIRS = 20_000_000
_PLAIN = ({float}, {float, type(None)})


class Unusual(Exception):  # noqa: N818 - it says of the tape what it is
    """This tape cannot be made into columns; it has to be folded frame by frame."""


class Folded:
    """A tape whose samples stand in the order of the signals."""

    def __init__(self, tape: Tape, signals: Mapping[str, Signal]) -> None:
        """Sort once for the whole tape.

        Raises:
            Unusual: It holds what only folding frame by frame does right.
        """
        self.tape, self.signals = tape, signals
        self.ageing = Ageing(tape)
        self._number = {name: number for number, name in enumerate(signals)}
        ids = np.fromiter(map(self._number.get, tape.names, repeat(-1)), np.int16, len(tape.names))
        counts = np.array(tape.counts, np.int64)
        self._refuse_unusual(ids, np.repeat(np.array(tape.bundles, np.int64), counts))
        order = np.argsort(ids, kind="stable")
        values = np.empty(len(order), object)
        values[:] = tape.values
        self._frames, self._values = np.repeat(np.arange(len(counts)), counts)[order], values[order]
        self._ends = np.searchsorted(ids[order], np.arange(len(signals) + 1))
        self.carriers = self._carrying()

    def _refuse_unusual(self, ids: NDArray[np.int16], bundles: Whole) -> None:
        """A change is always of a name that the frame carries."""
        names, width = list(self.signals), len(self.signals) + 1
        if len(self.tape.carried) * width > _MOST_PAIRS:
            raise Unusual("too many different sets of names")
        seen = np.bincount(bundles * width + ids + 1, minlength=len(self.tape.carried) * width)
        for number, carried in enumerate(self.tape.carried):
            changed = np.flatnonzero(seen[number * width + 1 : (number + 1) * width])
            if not {names[n] for n in changed.tolist()} <= set(carried):
                raise Unusual("a frame changes what it does not carry")

    def _carrying(self) -> dict[str, tuple[int, ...]]:
        """The bundles that carry each name."""
        found: dict[str, tuple[int, ...]] = {}
        for number, carried in enumerate(self.tape.carried):
            for name in dict.fromkeys(carried):
                found[name] = (*found.get(name, ()), number)
        return found

    def said(self, name: str, first: int, end: int) -> tuple[Whole, NDArray[np.object_]]:
        """What the frames of a stretch say of a signal: their numbers and the values."""
        number = self._number[name]
        begin, stop = int(self._ends[number]), int(self._ends[number + 1])
        cut = begin + np.searchsorted(self._frames[begin:stop], (first, end))
        return self._frames[cut[0] : cut[1]], self._values[cut[0] : cut[1]]

    def stretch(
        self, first: int, end: int, standing: Mapping[str, Value | None], papers: Papers = lambda _: {}
    ) -> Stretch:
        """The columns of the frames from `first` up to `end`.

        Args:
            first: The frame that begins the stretch.
            end: The one after its last.
            standing: What stands at its beginning: papers, and what does not age; None where that is not valid.
            papers: What a request amends.
        """
        return _Cutter(self, first, end).cut(standing, papers)


class _Cutter:
    """Makes one stretch."""

    def __init__(self, folded: Folded, first: int, end: int) -> None:
        self._folded, self._tape, self._first, self._end = folded, folded.tape, first, end
        self._codes: dict[str, int] = {}
        self._lapses = self._find_lapses()
        self._looks: dict[Place, int] = {}
        self._marks: dict[int, object] = {}
        self._found: set[int] = set()
        self._steps = self._lay_out()
        self._sim_s = self._times()

    def _find_lapses(self) -> dict[tuple[tuple[int, ...], float], list[Lapse]]:
        """By bundles and age, what is too old and when."""
        signals, carriers = self._folded.signals, self._folded.carriers
        kinds = {(c, signals[name].max_age_s) for name, c in carriers.items() if name in signals}
        lapses = self._folded.ageing.lapses
        return {kind: lapses(*kind, self._first, self._end) for kind in kinds if kind[1] > 0}

    def _lay_out(self) -> Whole:
        """Number the steps: one for each frame, each request, and each look that finds something too old.

        Returns:
            The step of each frame.
        """
        late = {lapse.look for lapses in self._lapses.values() for lapse in lapses}
        numbers = {n for n in self._tape.between if self._first < n <= self._end} | {n for n, _ in late}
        steps, taken, plain = np.empty(self._end - self._first, np.int64), 0, self._first
        for number in sorted(numbers):
            steps[plain - self._first : number - self._first] = np.arange(taken, taken + number - plain)
            taken, plain = self._lay_between(number, late, taken + number - plain), number
        steps[plain - self._first :] = np.arange(taken, taken + self._end - plain)
        self._count = taken + self._end - plain
        return steps

    def _lay_between(self, number: int, late: set[Place], taken: int) -> int:
        """Number what comes before a frame; gives the next step."""
        marks = self._tape.between.get(number, ())
        for place, mark in enumerate(marks):
            if not isinstance(mark, Look):
                self._marks[taken] = mark
                taken += 1
            elif (number, place) in late:
                self._looks[number, place] = taken
                taken += 1
        if (number, len(marks)) in late:
            self._looks[number, len(marks)] = taken
            taken += 1
        return taken

    def _times(self) -> NDArray[np.float64]:
        """The simulator's clock at each step: that of the frames so far, never back."""
        sim_s = np.full(self._count, -np.inf)
        sim_s[self._steps] = self._tape.sim_s[self._first : self._end]
        return np.maximum.accumulate(sim_s)

    def cut(self, standing: Mapping[str, Value | None], papers: Papers) -> Stretch:
        """All of it."""
        amended: dict[str, list[tuple[int, Value]]] = {}
        for step, mark in self._marks.items():
            for name, value in papers(mark).items():
                amended.setdefault(name, []).append((step, value))
        columns = {
            name: column
            for name, signal in self._folded.signals.items()
            if (column := self._column(signal, standing, amended.get(name, ()))) is not None
        }
        tape, first = self._tape, self._first
        calls = {
            int(self._steps[number - first]): calls
            for number, calls in tape.calls.items()
            if first <= number < self._end
        }
        frame = Frame("", tape.sim_s[first], tape.recv_s[first], tape.epochs[first], (), ())
        idle = frozenset(self._looks.values()) - self._found
        return Stretch(frame, self._sim_s, columns, calls, self._marks, self._codes, idle)

    def _column(
        self, signal: Signal, standing: Mapping[str, Value | None], amended: Iterable[tuple[int, Value]]
    ) -> Column | None:
        """One signal's column; None where nobody speaks of it."""
        frames, values = self._folded.said(signal.name, self._first, self._end)
        at = self._steps[frames - self._first]
        if np.any(at[1:] == at[:-1]):
            raise Unusual(f"a frame says {signal.name} twice")
        extra = [(0, standing[signal.name])] if signal.name in standing else []
        if extra or amended:
            at, values = _mixed(at, values, extra, list(amended))
        if not len(at):
            return None
        lapses = self._lapses.get((self._folded.carriers.get(signal.name, ()), signal.max_age_s), ())
        return self._judged(signal, at, values, lapses)

    def _judged(
        self, signal: Signal, at: Whole, values: NDArray[np.object_], lapses: Sequence[Lapse]
    ) -> Column:
        """The values as they count, each other than the one before."""
        number, code = np.empty(0), np.empty(0, np.int64)
        if signal.numeric:
            number = _numbers(signal, values)
            fresh = ~np.isnan(number)
            other = (number[1:] != number[:-1]) & (fresh[1:] | fresh[:-1])
        else:
            good = (value if bearable(signal, value) else None for value in values.tolist())
            code = np.array([word_code(value, self._codes) for value in good], np.int64)
            fresh = code >= 0
            other = code[1:] != code[:-1]
        kept = np.flatnonzero(np.append(True, other))
        number, code = (number[kept], code) if signal.numeric else (number, code[kept])
        quality = np.where(fresh[kept], FRESH, INVALID).astype(np.int8)
        raw = only(fresh[kept], values[kept])
        column = Column(at[kept], raw, quality, number, code)
        return self._lapsed(column, lapses) if lapses else column

    def _lapsed(self, column: Column, lapses: Sequence[Lapse]) -> Column:
        """With the times for which it is too old."""
        entries = [(int(step), 0, entry, FRESH) for entry, step in enumerate(column.at.tolist())]
        for lapse in lapses:
            look = self._looks[lapse.look]
            entry = column.entry(look)
            if entry < 0 or column.quality[entry] != FRESH:
                continue
            entries.append((look, 0, entry, STALE))
            self._found.add(look)
            back = int(self._steps[lapse.back - self._first]) if lapse.back < self._end else -1
            if back >= 0 and column.entry(back) == entry:
                entries.append((back, 0, entry, FRESH))
        entries.sort()
        return _picked(column, entries)


def _picked(column: Column, entries: list[tuple[int, int, int, int]]) -> Column:
    """The column with these entries of it, some of them stale."""
    steps, _, picks, states = (np.array(part, np.int64) for part in zip(*entries, strict=True))
    stale = states == STALE
    quality = np.where(stale, STALE, column.quality[picks]).astype(np.int8)
    raw = only(~stale, column.raw[picks])
    number = np.where(stale, np.nan, column.number[picks]) if len(column.number) else column.number
    code = np.where(stale, -1, column.code[picks]) if len(column.code) else column.code
    return Column(steps, raw, quality, number, code)


def _mixed(
    at: Whole,
    values: NDArray[np.object_],
    standing: Sequence[tuple[int, Value | None]],
    amended: Sequence[tuple[int, Value]],
) -> tuple[Whole, NDArray[np.object_]]:
    """With what stands at the beginning and what requests bring; of two for one step the later counts."""
    pairs = [*standing, *zip(at.tolist(), values.tolist(), strict=True), *amended]
    last = dict(sorted(pairs, key=lambda pair: pair[0]))
    mixed = np.empty(len(last), object)
    mixed[:] = list(last.values())
    return np.array(list(last), np.int64), mixed


def _numbers(signal: Signal, values: NDArray[np.object_]) -> NDArray[np.float64]:
    """The values as numbers; not a number where the signal cannot have them."""
    listed = values.tolist()
    if set(map(type, listed)) not in _PLAIN:
        listed = [value if bearable(signal, value) else None for value in listed]
    number = np.array(listed, np.float64)
    low, high = span(signal)
    good = (number >= low) & (number <= high) & np.isfinite(number)
    if signal.kind is Kind.COUNT:
        good &= number == np.trunc(number)
    return np.where(good, number, np.nan)
