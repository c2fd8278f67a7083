"""Judges a recording afresh: with columns, or frame by frame where a recording holds what columns do not do right.

Takes: a recording, a pack.  Gives: `Rejudged`: what is told now, and what was told when it was recorded.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from adapters.factory import receiver_for
from bridge.common.progress import ProgressCallback
from bridge.recording.file_format import EVENT_TOPICS, RecordingHead, encode_message
from bridge.recording.reader import Recording
from bridge.recording.replay_judge import replay_events, trip_of_head
from bridge.rejudge.load_input_log import InputLogLoader, LoadedInputLog
from bridge.session.request_handlers import handle_request
from bridge.session.requests import Request
from bridge.session.session import Session
from bridge.session.session_events import NOT_FROM_INPUTS, SessionChanged, SessionEvent
from rules.judge.batch import BatchJudge
from rules.packs.model import Pack
from rules.signals.column_builder import NotColumnar

_NOT_FROM_INPUTS_BYTES = tuple(f'"change":"{change}"'.encode() for change in NOT_FROM_INPUTS)
_SESSION_CHANGED_TOPIC = EVENT_TOPICS[SessionChanged]


@dataclass(frozen=True, slots=True)
class RejudgeResult:
    """`before` and `now` are the outputs, channel and bytes; `whole` is False where it was judged frame by frame."""

    before: list[tuple[str, bytes]]
    after: list[tuple[str, bytes]]
    frames: int
    by_columns: bool

    @property
    def same(self) -> bool:
        """Whether they are the same, to the byte."""
        return self.before == self.after


def rejudge(recording: Recording, pack: Pack, progress: ProgressCallback = lambda *_: None) -> RejudgeResult:
    """Judge a recording afresh; the recording's `fault` says afterwards where it breaks off.

    Args:
        recording: What was recorded, with the head that is to count.
        pack: The rules, loaded with the papers of that head.
        progress: Hears how far it is.
    """
    with _gc_disabled():
        judging = _LoggedSession(recording.head)
        taped = InputLogLoader(recording, judging.handle_request).load(
            lambda rows: progress("reading", rows, None)
        )
        try:
            told, whole = judging.judge(taped, pack, progress), True
        except NotColumnar:
            told, whole = replay_events(recording, pack), False
    before = [output for output in taped.outputs if not _not_from_inputs(*output)]
    return RejudgeResult(
        before,
        [(EVENT_TOPICS[type(each)], encode_message(each)) for each in told],
        len(taped.input_log),
        whole,
    )


def _not_from_inputs(topic: str, data: bytes) -> bool:
    """Whether a note says that a session or its recording began or ended, which no input brings about."""
    return topic == _SESSION_CHANGED_TOPIC and any(word in data for word in _NOT_FROM_INPUTS_BYTES)


@contextmanager
def _gc_disabled() -> Iterator[None]:
    """Without looks for unreachable objects while millions that are reachable are made."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


class _LoggedSession:
    """A session that lives on a tape."""

    def __init__(self, head: RecordingHead) -> None:
        self._head = head
        self._utc = head.began_utc
        self._session: Session | None = None

    def handle_request(self, request: Request, utc: float) -> None:
        """Grant a request whose turn has come."""
        if self._session is not None:
            self._utc = utc
            handle_request(self._session, request)

    def judge(self, loaded: LoadedInputLog, pack: Pack, progress: ProgressCallback) -> list[SessionEvent]:
        """All that is told."""
        told: list[SessionEvent] = []
        core = BatchJudge(
            pack, trip_of_head(self._head), loaded.input_log, calls_entered=self._head.calls_expected
        )
        self._session = Session(
            core, receiver_for({}), [told.append], name=self._head.name, wall_clock=lambda: self._utc
        )
        done = 0
        for entries in core.run():
            if entries:
                at = core.frame_number
                self._utc = loaded.utc[at]
                self._session.publish(entries)
                progress("judging", at - done, len(loaded.input_log))
                done = at
        progress("judging", len(loaded.input_log) - done, len(loaded.input_log))
        return told
