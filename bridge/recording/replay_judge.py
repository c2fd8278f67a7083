"""Judges a recording again, frame by frame: the same pack gives the same events to the byte.

Takes: a recording and a pack.  Gives: the events that its inputs cause.
"""

from __future__ import annotations

from collections.abc import Iterable

from adapters.factory import receiver_for
from bridge.recording.file_format import FramesLost, RecordingHead, RecordingKeyframe
from bridge.recording.frame_codec import keyframe_to_frame
from bridge.recording.reader import RecordedItem, Recording
from bridge.session.request_handlers import handle_request
from bridge.session.requests import Request
from bridge.session.session import Session
from bridge.session.session_events import SessionEvent
from bridge.session.session_input import ClockTick
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame


def trip_of_head(head: RecordingHead) -> TripSheet:
    """Return the trip sheet at the start of the recorded session."""
    trip = head.trip
    return TripSheet(trip.title, trip.values, trip.inoperative, trip.note)


class ReplayJudge:
    """A session that is fed with recorded inputs; `events` collects its output."""

    def __init__(self, head: RecordingHead, pack: Pack) -> None:
        """Start in the state in which the recorded session started, with this pack.

        Args:
            head: The head of the recording.
            pack: The rules, loaded with `trip_of_head(head)`.
        """
        self.events: list[SessionEvent] = []
        self._utc = head.began_utc
        judge = Judge(pack, trip_of_head(head), calls_entered=head.calls_expected)
        receiver = receiver_for({})
        self.session = Session(
            judge, receiver, [self.events.append], name=head.name, wall_clock=lambda: self._utc
        )
        self._link = ""
        self._frames_missing = head.part > 1

    def feed(self, item: RecordedItem) -> None:
        """Process one input; outputs are ignored."""
        self._utc = item.utc
        match item.content:
            case Frame():
                self._link = item.content.link
                self.session.judge_frame(item.content)
            case ClockTick(recv_s=recv_s):
                self.session.expire_stale(recv_s)
            case Request():
                handle_request(self.session, item.content)
            case FramesLost(frames=frames):
                self._frames_missing = self._frames_missing or frames > 0
            case RecordingKeyframe() if self._frames_missing:
                self._apply_keyframe(item.content)

    def _apply_keyframe(self, keyframe: RecordingKeyframe) -> None:
        """Continue from the complete state after lost frames or missing earlier parts."""
        begins = not self.session.judge.context.phase
        self._frames_missing = False
        self.session.judge_frame(keyframe_to_frame(keyframe, self._link, keyframe.calls if begins else ()))
        for request in keyframe.requests if begins else ():
            handle_request(self.session, request.request)


def replay_events(recording: Recording, pack: Pack) -> list[SessionEvent]:
    """Judge a recording again.

    Args:
        recording: The recording.
        pack: The rules, loaded with the recording's trip sheet (`trip_of_head`).

    Returns:
        Every event of the judge, and the session events that requests cause.
    """
    return replay_items(recording.head, recording.items(), pack)


def replay_items(head: RecordingHead, items: Iterable[RecordedItem], pack: Pack) -> list[SessionEvent]:
    """Judge recorded items of any source again."""
    replay_judge = ReplayJudge(head, pack)
    for item in items:
        replay_judge.feed(item)
    return replay_judge.events
