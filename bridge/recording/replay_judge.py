"""Judges a recording again, frame by frame: the same pack gives the same events to the byte.

Takes: a recording and a pack.  Gives: the events that its inputs cause.
"""

from __future__ import annotations

from bridge.recording.file_format import RecordingHead
from bridge.recording.frame_codec import StoredFrame
from bridge.recording.reader import RecordedItem, Recording, ReplayContent, StoredEvent
from bridge.session.event_bus import EventBus
from bridge.session.request_handlers import handle_request
from bridge.session.requests import Request
from bridge.session.session import Session
from bridge.session.session_events import KINDS, SessionEvent
from bridge.session.session_input import ClockTick
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame


def trip_of_head(head: RecordingHead) -> TripSheet:
    """Return the trip sheet at the start of the recorded session."""
    trip = head.trip
    return TripSheet(trip.title, trip.values, trip.inoperative, trip.note, trip.calls)


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
        bus = EventBus()
        bus.subscribe(self.events.append, *KINDS)
        self.session = Session(judge, bus, name=head.name, wall_clock=lambda: self._utc)

    def feed(self, item: RecordedItem[ReplayContent]) -> None:
        """Process one input; events are ignored."""
        self._utc = item.utc
        match item.content:
            case StoredFrame():
                self.session.judge_frame(item.content.frame())
            case Frame():
                self.session.judge_frame(item.content)
            case ClockTick(recv_s=recv_s):
                self.session.expire_stale(recv_s)
            case Request():
                handle_request(self.session, item.content)
            case StoredEvent():
                pass


def replay_events(recording: Recording, pack: Pack) -> list[SessionEvent]:
    """Judge a recording again.

    Args:
        recording: The recording.
        pack: The rules, loaded with the recording's trip sheet (`trip_of_head`).

    Returns:
        Every event of the judge, and the session events that requests cause.
    """
    replay_judge = ReplayJudge(recording.head, pack)
    for item in recording.replay_items():
        replay_judge.feed(item)
    return replay_judge.events
