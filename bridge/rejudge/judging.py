"""Judges a recording again over columns, or frame by frame if columns cannot represent it.

Takes: a recording, a pack.  Gives: `RejudgeResult`: the recorded events and those of now.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from bridge.common.progress import ProgressCallback
from bridge.recording.file_format import EVENT_TOPICS, RecordingHead, encode_message
from bridge.recording.reader import Recording
from bridge.recording.replay_judge import replay_events, trip_of_head
from bridge.rejudge.load_input_log import InputLogLoader, LoadedInputLog
from bridge.session.event_bus import EventBus
from bridge.session.request_handlers import handle_request
from bridge.session.requests import Request
from bridge.session.session import Session
from bridge.session.session_events import KINDS, NOT_FROM_INPUTS, SessionEvent
from rules.judge.judge import batch_judge
from rules.packs.model import Pack
from rules.signals.input_log import NotColumnar

_TOPICS_NOT_FROM_INPUTS = frozenset(EVENT_TOPICS[event_type] for event_type in NOT_FROM_INPUTS)


@dataclass(frozen=True, slots=True)
class RejudgeResult:
    """`before` and `after` are events, channel and bytes; `by_columns` is False if it was judged frame by frame."""

    before: list[tuple[str, bytes]]
    after: list[tuple[str, bytes]]
    frames: int
    by_columns: bool

    @property
    def same(self) -> bool:
        """True if all events are the same to the byte."""
        return self.before == self.after


def rejudge(recording: Recording, pack: Pack, progress: ProgressCallback = lambda *_: None) -> RejudgeResult:
    """Judge a recording again; the recording's `fault` then names the place where it ends early.

    Args:
        recording: The recording, with the head that is to be used.
        pack: The rules, loaded with the trip sheet of that head.
        progress: Called with the progress.
    """
    with _gc_disabled():
        session = _LoggedSession(recording.head)
        loaded = InputLogLoader(recording, session.handle_request).load(
            lambda rows: progress("reading", rows, None)
        )
        try:
            events, by_columns = session.judge(loaded, pack, progress), True
        except NotColumnar:
            events, by_columns = replay_events(recording, pack), False
    before = [output for output in loaded.outputs if output[0] not in _TOPICS_NOT_FROM_INPUTS]
    return RejudgeResult(
        before,
        [(EVENT_TOPICS[type(each)], encode_message(each)) for each in events],
        len(loaded.input_log),
        by_columns,
    )


@contextmanager
def _gc_disabled() -> Iterator[None]:
    """Disable garbage collection while millions of objects are created that stay alive."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


class _LoggedSession:
    """A session that is judged over an input log."""

    def __init__(self, head: RecordingHead) -> None:
        self._head = head
        self._utc = head.began_utc
        self._session: Session | None = None

    def handle_request(self, request: Request, utc: float) -> None:
        """Handle a request in its turn."""
        if self._session is not None:
            self._utc = utc
            handle_request(self._session, request)

    def judge(self, loaded: LoadedInputLog, pack: Pack, progress: ProgressCallback) -> list[SessionEvent]:
        """Judge the input log and return all events."""
        events: list[SessionEvent] = []
        judge = batch_judge(
            pack, trip_of_head(self._head), loaded.input_log, calls_entered=self._head.calls_expected
        )
        bus = EventBus()
        bus.subscribe(events.append, *KINDS)
        self._session = Session(judge, bus, name=self._head.name, wall_clock=lambda: self._utc)
        judged = 0
        for judge_events in judge.run():
            if judge_events:
                frame_number = judge.frame_number
                self._utc = loaded.utc[frame_number]
                self._session.publish(judge_events)
                progress("judging", frame_number - judged, len(loaded.input_log))
                judged = frame_number
        progress("judging", len(loaded.input_log) - judged, len(loaded.input_log))
        return events
