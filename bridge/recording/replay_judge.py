"""Judges a recording again with the live core: the same pack gives the same entries, to the byte.

Takes: a recording and a pack.  Gives: the entries and notes that its inputs bring about.
"""

from __future__ import annotations

from collections.abc import Iterable

from adapters.factory import receiver_for
from bridge.recording.file_format import FramesLost, RecordingHead, RecordingKeyframe
from bridge.recording.frame_codec import keyframe_to_frame
from bridge.recording.reader import RecordedItem, Recording
from bridge.runtime.control import Request
from bridge.session.request_handlers import handle_request
from bridge.session.session import Session
from bridge.session.session_events import SessionEvent
from bridge.session.session_input import ClockTick
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame


def trip_of_head(head: RecordingHead) -> TripSheet:
    """The trip sheet with which the recorded session began."""
    papers = head.trip
    return TripSheet(papers.title, papers.values, papers.inoperative, papers.note)


class ReplayJudge:
    """A session that lives on what was recorded; `told` grows with what it says."""

    def __init__(self, head: RecordingHead, pack: Pack) -> None:
        """Begin as the recorded session began, with this pack.

        Args:
            head: The recording's.
            pack: The rules, loaded with `trip_of(head)`.
        """
        self.events: list[SessionEvent] = []
        self._utc = head.began_utc
        core = Judge(pack, trip_of_head(head), calls_entered=head.calls_expected)
        receiver = receiver_for({})
        self.session = Session(
            core, receiver, [self.events.append], name=head.name, wall_clock=lambda: self._utc
        )
        self._link = ""
        self._frames_missing = head.part > 1

    def feed(self, item: RecordedItem) -> None:
        """Let one input in; outputs are passed over."""
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
        """Go on from how everything stood: frames were lost, or the parts before this one are not there."""
        begins = not self.session.judge.context.phase
        self._frames_missing = False
        self.session.judge_frame(keyframe_to_frame(keyframe, self._link, keyframe.calls if begins else ()))
        for request in keyframe.requests if begins else ():
            handle_request(self.session, request.request)


def replay_events(recording: Recording, pack: Pack) -> list[SessionEvent]:
    """Judge a recording again.

    Args:
        recording: What was recorded.
        pack: The rules, loaded with the recording's papers (`trip_of`).

    Returns:
        Every entry, and the notes that requests bring about.
    """
    return replay_items(recording.head, recording.items(), pack)


def replay_items(head: RecordingHead, items: Iterable[RecordedItem], pack: Pack) -> list[SessionEvent]:
    """As `replay`, with lines from anywhere."""
    again = ReplayJudge(head, pack)
    for line in items:
        again.feed(line)
    return again.events
