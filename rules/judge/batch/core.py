"""A core that judges a tape: it goes only to the steps at which something can come of it.

Such steps are those at which a condition changes, a signal comes or goes, a call is made, somebody asks for something, a timer
is due or a strip keeps a row.  At each of them it does exactly what the live core does.

Takes: a pack, papers, a tape.  Gives: entries.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Protocol, runtime_checkable

import numpy as np

from rules.judge.batch.figures import ColumnFigures, work_out
from rules.judge.batch.state import ColumnState
from rules.judge.batch.traces import ColumnTraces
from rules.judge.core import Core, Papers
from rules.judge.entries import CallEntered, Entry
from rules.judge.figures import Figures
from rules.judge.session import conditions_of
from rules.judge.traces import Traces
from rules.language.batch import ColumnMonitors, Cursor
from rules.language.live import Monitors
from rules.packs.model import Pack
from rules.signals.columns import Stretch
from rules.signals.folded import Folded
from rules.signals.model import Frame, Value
from rules.signals.state import State
from rules.signals.tape import Tape


@runtime_checkable
class Asked(Protocol):
    """A request on the tape."""

    def papers(self, pack: Pack) -> Mapping[str, Value]:
        """The papers that it brings, by signal name; none where it brings none or will not be granted."""

    def ask(self, core: Core) -> list[Entry]:
        """Ask it; what cannot be granted changes nothing."""


class Batch(Core):
    """Judges one tape, once."""

    def __init__(self, pack: Pack, trip: Papers, tape: Tape, *, calls_heard: bool = False) -> None:
        """Get ready.

        Args:
            pack: The rules.
            trip: The papers' values.
            tape: What went in; each request on it is `Asked`.
            calls_heard: As of the live core.

        Raises:
            Unusual: The tape has to be judged frame by frame.
        """
        self._tape = tape
        self._folded = Folded(tape, pack.signals)
        nothing = Stretch(Frame("", 0.0, 0.0, 0, (), ()), np.zeros(1), {}, {}, {}, {})
        self._cursor = Cursor(nothing)
        self._last = 0
        super().__init__(pack, trip, calls_heard=calls_heard)

    def _ground(self, pack: Pack, *, steady: bool, calls_heard: bool) -> tuple[State, Figures, Monitors]:
        del steady
        self._state = ColumnState(pack.signals, self._cursor)
        figures = ColumnFigures(pack, self._state)
        conditions = conditions_of(pack)
        self._monitors = ColumnMonitors(
            conditions, self._state, self._cursor, calls_heard=calls_heard, names=figures
        )
        return self._state, figures, self._monitors

    def _make_traces(self, values: Collection[str], readers: Mapping[str, Collection[str]]) -> Traces:
        self._seen = ColumnTraces(values, readers, self._cursor)
        return self._seen

    @property
    def frame_number(self) -> int:
        """The number on the tape of the frame that was judged last."""
        return self._cursor.stretch.frame_at(self._cursor.step)

    def judge(self) -> Iterator[list[Entry]]:
        """Judge it all.

        Yields:
            The entries of each step that has any, in the order in which the live core says them.

        Raises:
            Unusual: The tape has to be judged frame by frame; nothing that was said counts then.
        """
        for mark in self._tape.before():
            yield _asked(mark).ask(self)
        standing: dict[str, Value | None] = {}
        for first, end in self._tape.stretches():
            stretch = self._folded.stretch(first, end, {**standing, **self._papers}, self._brought)
            work_out(self.session.pack.figures, stretch)
            self._cursor.stretch, self._cursor.step = stretch, 0
            yield from self._go_through(stretch)
            standing = self._lasting(stretch)

    def _brought(self, mark: object) -> Mapping[str, Value]:
        return _asked(mark).papers(self.session.pack)

    def _lasting(self, stretch: Stretch) -> dict[str, Value | None]:
        """What does not age, and so outlasts the stretch."""
        figures = {figure.signal.name for figure in self.session.pack.figures}
        return {
            name: column.value(len(stretch) - 1)
            for name, column in stretch.columns.items()
            if self.session.pack.signals[name].max_age_s <= 0 and name not in figures
        }

    def _go_through(self, stretch: Stretch) -> Iterator[list[Entry]]:
        """Judge one stretch."""
        yield self._first(stretch)
        self._last = last = _last_step(stretch)
        eventful = {*self._monitors.steps, *self._seen.steps, *stretch.calls, *stretch.marks, last}
        planned = sorted(step for step in eventful if step <= last)
        at, step = 0, 0
        while step < last:
            while planned[at] <= step:
                at += 1
            step = self._next(stretch, step, planned[at])
            entries = self._ask(stretch, step) if step in stretch.marks else self._visit(stretch, step)
            if entries:
                yield entries

    def _first(self, stretch: Stretch) -> list[Entry]:
        """The first step: everything is looked at."""
        self._state.stand(0)
        self._begin(stretch.first)
        self._monitors.load()
        self._seen.load()
        calls, self._early = (*self._early, *self._calls_at(stretch, 0)), []
        self._step((), calls, everywhere=True)
        return self.session.take()

    def _next(self, stretch: Stretch, step: int, planned: int) -> int:
        """The next step to go to."""
        if self._monitors.pending:
            following = step + 1
        else:
            due_s = min(self._monitors.next_s, self.session.timers.next_s, self.strips.due_s)
            due = step + 1 if due_s <= stretch.sim_s[step] else planned
            if due == planned and due_s <= stretch.sim_s[planned]:
                due = int(stretch.sim_s.searchsorted(due_s, "left"))
            following = min(planned, due)
        while following in stretch.idle:
            following += 1
        return following

    def _visit(self, stretch: Stretch, step: int) -> list[Entry]:
        """What a frame or a look does."""
        self._state.stand(step)
        calls = self._calls_at(stretch, step)
        due_s = min(self.session.timers.next_s, self.strips.due_s)
        touched = step in self._seen.steps
        if calls or touched or step == self._last or due_s <= self._state.sim_s or self._monitors.go(step):
            self._step((), calls)
        return self.session.take()

    def _ask(self, stretch: Stretch, step: int) -> list[Entry]:
        """What a request does: all stands as the step before left it.

        What was told in that step still waits: it counts from the next one, and a request that is refused is none.
        """
        if not self._monitors.pending:
            self._monitors.go(step - 1)
        self.session.sim_s = float(stretch.sim_s[step - 1])
        self._state.stand(step)
        return _asked(stretch.marks[step]).ask(self)

    def _calls_at(self, stretch: Stretch, step: int) -> tuple[CallEntered, ...]:
        known = self.session.pack.calls
        made = stretch.calls.get(step, ())
        return tuple(CallEntered(self._state.sim_s, name, "") for name in made if name in known)


def _last_step(stretch: Stretch) -> int:
    """The last step of a stretch at which anything is judged; its first always is."""
    last = len(stretch) - 1
    while last in stretch.idle:
        last -= 1
    return last


def _asked(mark: object) -> Asked:
    if not isinstance(mark, Asked):
        raise TypeError(f"a tape of {type(mark).__name__}")
    return mark
