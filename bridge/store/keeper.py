"""Keeps one session: puts what counts of it into its spool, and on the disk, before anybody is told.

What is kept: phases, gates, findings, notices, calls, strips, times, seats, notes and remarks.  Verdicts and samples are in
the recording.

Takes: what a session is about to tell.  Gives: lines in a spool.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from bridge.notes import Change, Remarked, SessionNoted, Told
from bridge.passages import Passages
from bridge.session import Session
from bridge.store import kept
from bridge.store.kept import Begun, What
from bridge.store.spool import Spool
from bridge.threat_error import Sorter
from rules.judge.entries import (
    CallEntered,
    CallRetracted,
    FindingChanged,
    FindingOpened,
    Notice,
    PhaseEntered,
    StripKept,
    TimeNoted,
)
from rules.packs.model import Pack


class Keeper:
    """Hears what a session tells before all others do.

    Attributes:
        spool: where it goes.
    """

    def __init__(self, spool: Spool, pack: Pack, begun: Begun, session: Session) -> None:
        """Write that it has begun.

        Args:
            spool: where lines go.
            pack: by which it is judged.
            begun: what is known of it now.
            session: the session.
        """
        self.spool = spool
        self._session = session
        self._seated: dict[str, str] = {}
        self._titled = begun.head.name, begun.head.course
        self._passages = Passages(pack)
        self._sorter = Sorter(pack)
        self._phases = {phase.id: phase for phase in pack.phases}
        self._calls = {call.id: call.title for call in pack.calls.values()}
        spool.write(session.utc(), [begun])

    def __call__(self, told: Sequence[Told]) -> None:
        """Put on the disk what counts of this."""
        lines = list(chain.from_iterable(map(self._lines, told)))
        if lines or self.spool.waiting:
            self.spool.write(self._session.utc(), lines)

    def close(self) -> None:
        """The session is watched no more, in good order."""
        self.spool.write(self._session.utc(), [kept.Closed()])
        self.spool.close()

    def _lines(self, told: Told) -> Iterator[What]:
        """What is to be kept of one entry or note."""
        passage = self._passages.take(told)
        if passage is not None:
            yield kept.Passed(passage)
        match told:
            case FindingOpened() | FindingChanged():
                yield kept.Found(told.finding, self._sorter.error_class(told.finding))
            case Notice():
                yield kept.Noticed(told)
            case StripKept():
                yield kept.Stripped(told)
            case TimeNoted():
                yield kept.Timed(told)
            case SessionNoted() | Remarked():
                yield from self._said(told)
            case PhaseEntered() | CallEntered() | CallRetracted():
                yield self._went(told)
            case _:
                pass

    def _went(self, told: PhaseEntered | CallEntered | CallRetracted) -> What:
        """How the flight goes on."""
        match told:
            case PhaseEntered(sim_s, phase):
                known = self._phases.get(phase)
                title, code = (known.title, known.code) if known else (phase, "")
                return kept.Phased(sim_s, phase, title, code)
            case CallEntered(sim_s, call, by):
                return kept.Called(sim_s, call, self._calls.get(call, call), by)
            case CallRetracted():
                return kept.TakenBack(told)

    def _said(self, told: SessionNoted | Remarked) -> Iterator[What]:
        """Who sits where and what it is called come with the notes that say so."""
        if isinstance(told, Remarked):
            yield kept.Written(told)
            return
        if told.change is Change.SEATED:
            now = dict(self._session.crew)
            for seat in dict.fromkeys([*self._seated, *now]):
                if self._seated.get(seat, "") != now.get(seat, ""):
                    yield kept.Seated(told.sim_s, seat, now.get(seat, ""))
            self._seated = now
        elif (title := (self._session.name, self._session.course)) != self._titled:
            self._titled = title
            yield kept.Titled(*title)
        yield kept.Noted(told)
