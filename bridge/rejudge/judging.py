"""Judges a recording afresh: with columns, or frame by frame where a recording holds what columns do not do right.

Takes: a recording, a pack.  Gives: `Rejudged`: what is told now, and what was told when it was recorded.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from adapters.build import receiver_for
from bridge.control import Request
from bridge.notes import OF_KEEPING, Told
from bridge.record.again import replay, trip_of
from bridge.record.form import ENTRY, TOPICS, Head, encode
from bridge.record.reader import Recording
from bridge.rejudge.taping import Taped, Taping
from bridge.requests import grant
from bridge.session import Session
from rules.judge.batch import Batch
from rules.packs.model import Pack
from rules.signals.folded import Unusual

Progress = Callable[[str, int, int | None], None]
"""Called with what is being done, how much more of it is, and how much there is in all (None: not known)."""

_NOT_OURS = tuple(f'"change":"{change}"'.encode() for change in OF_KEEPING)
_NOTED = f"{ENTRY}session/noted"


@dataclass(frozen=True, slots=True)
class Rejudged:
    """`before` and `now` are the outputs, channel and bytes; `whole` is False where it was judged frame by frame."""

    before: list[tuple[str, bytes]]
    now: list[tuple[str, bytes]]
    frames: int
    whole: bool

    @property
    def same(self) -> bool:
        """Whether they are the same, to the byte."""
        return self.before == self.now


def rejudge(recording: Recording, pack: Pack, progress: Progress = lambda *_: None) -> Rejudged:
    """Judge a recording afresh; the recording's `fault` says afterwards where it breaks off.

    Args:
        recording: What was recorded, with the head that is to count.
        pack: The rules, loaded with the papers of that head.
        progress: Hears how far it is.
    """
    with _no_collector():
        judging = _Judging(recording.head)
        taped = Taping(recording, judging.grant).read(lambda rows: progress("reading", rows, None))
        try:
            told, whole = judging.judge(taped, pack, progress), True
        except Unusual:
            told, whole = replay(recording, pack), False
    before = [output for output in taped.outputs if not _of_recorder(*output)]
    return Rejudged(before, [(TOPICS[type(each)], encode(each)) for each in told], len(taped.tape), whole)


def _of_recorder(topic: str, data: bytes) -> bool:
    """Whether a note says that a session or its recording began or ended, which no input brings about."""
    return topic == _NOTED and any(word in data for word in _NOT_OURS)


@contextmanager
def _no_collector() -> Iterator[None]:
    """Without looks for unreachable objects while millions that are reachable are made."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


class _Judging:
    """A session that lives on a tape."""

    def __init__(self, head: Head) -> None:
        self._head = head
        self._utc = head.began_utc
        self._session: Session | None = None

    def grant(self, request: Request, utc: float) -> None:
        """Grant a request whose turn has come."""
        if self._session is not None:
            self._utc = utc
            grant(self._session, request)

    def judge(self, taped: Taped, pack: Pack, progress: Progress) -> list[Told]:
        """All that is told."""
        told: list[Told] = []
        core = Batch(pack, trip_of(self._head), taped.tape, calls_heard=self._head.calls_heard)
        self._session = Session(
            core, receiver_for({}), [told.append], name=self._head.name, wall=lambda: self._utc
        )
        done = 0
        for entries in core.judge():
            if entries:
                at = core.frame_number
                self._utc = taped.utc[at]
                self._session.tell(entries)
                progress("judging", at - done, len(taped.tape))
                done = at
        progress("judging", len(taped.tape) - done, len(taped.tape))
        return told
