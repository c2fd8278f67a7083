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

from rules.signals.ageing import Ageing, Lapse, Place
from rules.signals.columns import FRESH, INVALID, NOT_KNOWN, STALE, Column, Real, Stretch, Whole, word_code
from rules.signals.model import Frame, Kind, Signal, Value
from rules.signals.state import bearable, span
from rules.signals.tape import Look, Tape

Papers = Callable[[object], Mapping[str, Value]]
"""The papers that a request brings; none where it brings none."""

_MOST_BUNDLES = 200
_NO_CODES = np.empty(0, np.int64)
_NO_NUMBERS = np.empty(0)


class Unusual(Exception):  # noqa: N818 - it says of the tape what it is
    """This tape cannot be made into columns; it has to be folded frame by frame."""


class Said(NamedTuple):
    """Values one after the other: the floats, and by their place those that are something else (None: not fresh)."""

    number: Real
    odd: dict[int, Value | None]

    def listed(self) -> list[Value | None]:
        """All of them."""
        values: list[Value | None] = self.number.tolist()
        for entry, value in self.odd.items():
            values[entry] = value
        return values


def said_of(values: Sequence[Value | None]) -> Said:
    """These values."""
    odd = {entry: value for entry, value in enumerate(values) if type(value) is not float}
    return Said(np.array([value if type(value) is float else np.nan for value in values], np.float64), odd)


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
        self._order = order = np.argsort(ids, kind="stable")
        self._frames = np.repeat(np.arange(len(counts)), counts)[order]
        self._numbers = np.frombuffer(tape.numbers)[order] if len(order) else np.empty(0)
        self._ends = np.searchsorted(ids[order], np.arange(len(signals) + 1))
        self._odd_places = np.zeros(len(order), bool)
        self._odd_places[list(tape.odd)] = True
        self._odd_ids = set(ids[list(tape.odd)].tolist())
        self.carriers = self._carrying()

    def _refuse_unusual(self, ids: NDArray[np.int16], bundles: Whole) -> None:
        """A change is always of a name that the frame carries."""
        names, width = list(self.signals), len(self.signals) + 1
        if len(self.tape.carried) > _MOST_BUNDLES:
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

    def said(self, name: str, first: int, end: int) -> tuple[Whole, Said]:
        """What the frames of a stretch say of a signal: their numbers and the values."""
        number = self._number[name]
        begin, stop = int(self._ends[number]), int(self._ends[number + 1])
        begin, stop = (begin + np.searchsorted(self._frames[begin:stop], (first, end))).tolist()
        said = Said(self._numbers[begin:stop], {})
        if number in self._odd_ids:
            places = self._order[begin:stop]
            for entry in np.flatnonzero(self._odd_places[places]).tolist():
                said.odd[entry] = self.tape.odd[int(places[entry])]
        return self._frames[begin:stop], said

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
        return Stretch(frame, self._sim_s, columns, calls, self._marks, self._codes, idle, first, self._steps)

    def _column(
        self, signal: Signal, standing: Mapping[str, Value | None], amended: Iterable[tuple[int, Value]]
    ) -> Column | None:
        """One signal's column; None where nobody speaks of it."""
        frames, said = self._folded.said(signal.name, self._first, self._end)
        at = self._steps[frames - self._first]
        if np.any(at[1:] == at[:-1]):
            raise Unusual(f"a frame says {signal.name} twice")
        extra = [(0, standing[signal.name])] if signal.name in standing else []
        if extra or amended:
            at, said = _mixed(at, said, extra, list(amended))
        if not len(at):
            return None
        lapses = self._lapses.get((self._folded.carriers.get(signal.name, ()), signal.max_age_s), ())
        column = _numbered(signal, at, said) if signal.numeric else _worded(signal, at, said, self._codes)
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
    number = np.where(stale, np.nan, column.number[picks]) if len(column.number) else column.number
    code = np.where(stale, NOT_KNOWN, column.code[picks]) if len(column.code) else column.code
    return Column(steps, quality, number, code, None if column.raw is None else column.raw[picks])


def _mixed(
    at: Whole,
    said: Said,
    standing: Sequence[tuple[int, Value | None]],
    amended: Sequence[tuple[int, Value]],
) -> tuple[Whole, Said]:
    """With what stands at the beginning and what requests bring; of two for one step the later counts."""
    pairs = [*standing, *zip(at.tolist(), said.listed(), strict=True), *amended]
    last = dict(sorted(pairs, key=lambda pair: pair[0]))
    return np.array(list(last), np.int64), said_of(list(last.values()))


def _numbered(signal: Signal, at: Whole, said: Said) -> Column:
    """The column of a number: each entry other than the one before, and invalid where the signal cannot have it."""
    number, raw = said.number, None
    if any(value is not None for value in said.odd.values()):
        good = [value if bearable(signal, value) else None for value in said.listed()]
        raw = np.empty(len(good), object)
        raw[:] = good
        number = np.array(good, np.float64)
    low, high = span(signal)
    fresh = (number >= low) & (number <= high) & (np.abs(number) < np.inf)
    if signal.kind is Kind.COUNT:
        fresh &= number == np.trunc(number)
    number = np.where(fresh, number, np.nan)
    other = (number[1:] != number[:-1]) & (fresh[1:] | fresh[:-1])
    kept = np.flatnonzero(np.append(True, other))
    quality = np.where(fresh[kept], FRESH, INVALID).astype(np.int8)
    return Column(at[kept], quality, number[kept], _NO_CODES, None if raw is None else raw[kept])


def _worded(signal: Signal, at: Whole, said: Said, codes: dict[str, int]) -> Column:
    """The column of a word, likewise."""
    good = [value if bearable(signal, value) else None for value in said.listed()]
    code = np.array([word_code(value, codes) for value in good], np.int64)
    kept = np.flatnonzero(np.append(True, code[1:] != code[:-1]))
    raw = np.empty(len(kept), object)
    raw[:] = [good[entry] for entry in kept.tolist()]
    quality = np.where(code[kept] != NOT_KNOWN, FRESH, INVALID).astype(np.int8)
    return Column(at[kept], quality, _NO_NUMBERS, code[kept], raw)
