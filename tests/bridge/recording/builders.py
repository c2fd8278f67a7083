"""Provides a device whose sessions are recorded on manual clocks, for the tests of recordings.

Takes: a pack and a folder.  Gives: `RecordedDevice`: send frames, make requests, let time pass, write, read back.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from bridge.recording.device_recording import DeviceRecording
from bridge.recording.file_format import EVENT_TOPICS, encode_message
from bridge.recording.reader import RecordedContent, RecordedItem, Recording, open_recording
from bridge.recording.recorder import Recorder
from bridge.recording.recording_budget import list_recordings
from bridge.recording.writer import FileOpener, RecordingLimits, open_private
from bridge.runtime.device import Device, build_device
from bridge.session.requests import Request, Verb
from bridge.session.session_events import KINDS, NOT_FROM_INPUTS, SessionChange, SessionEvent
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, FrameSender, feed
from tests.contract.waiting import ManualClock

BEGAN_UTC = 1_795_579_200.0
"""25 November 2026, 04:00 UTC."""
NO_FREE_SPACE_LIMIT = RecordingLimits(min_free_bytes=0)


class RecordedDevice:
    """One recorded device; nothing happens without a call."""

    def __init__(
        self,
        pack: Pack,
        folder: Path,
        limits: RecordingLimits = NO_FREE_SPACE_LIMIT,
        *,
        opener: FileOpener = open_private,
        free: int = 10**12,
    ) -> None:
        """Record its first session from the start."""
        self.pack, self.folder = pack, folder
        self.clock, self.wall, self.free = ManualClock(), ManualClock(BEGAN_UTC), free
        self.device: Device = build_device(pack, TRIP, "udp://127.0.0.1:0", wall_clock=self.wall)
        self.device.source.clock = self.clock
        self.events: list[SessionEvent] = []
        self.device.bus.subscribe(self.events.append, *KINDS)
        self.recorder = Recorder(
            folder,
            limits,
            opener=opener,
            free_bytes=lambda _: self.free,
            clock=self.clock,
            wall_clock=self.wall,
        )
        self.device_recording = DeviceRecording(self.device, self.recorder)
        self.sender = FrameSender()

    def send(self, sim_s: float, values: dict[str, Value] | None = None, **calls: float) -> None:
        """Receive one frame now."""
        feed(self.device, self.sender.datagram(sim_s, values, **calls), self.clock())

    def request(self, verb: Verb, name: str = "", reason: str = "") -> None:
        """Make a request as the instructor."""
        self.device.handle(Request(verb, name, "instructor", reason))

    def wait(self, by_s: float) -> None:
        """Let time pass on both clocks, then tick."""
        self.clock.now_s += by_s
        self.wall.now_s += by_s
        self.device.runner.tick()

    def fly(self, seconds: int, *, since_s: int = 0) -> None:
        """Send a frame each second, with a beacon that is switched and a pressure that rises."""
        for second in range(since_s, since_s + seconds):
            self.send(
                second,
                {"lights.beacon": "on" if second % 2 else "off", "hydraulics.1.pressure": 2000.0 + second},
            )
            self.wait(1.0)
            self.recorder.write_queued()

    def items(self) -> list[RecordedItem[RecordedContent]]:
        """Read all items of the folder's first recording."""
        return list(self.read().items())

    def read(self) -> Recording:
        """Open the folder's first recording."""
        return open_recording(list_recordings(self.folder)[0].parts[0])

    def read_last(self) -> Recording:
        """Open the folder's last recording."""
        return open_recording(list_recordings(self.folder)[-1].parts[0])

    def event_messages(self) -> list[bytes]:
        """Encode the published events as a recording has them."""
        return [encode_message(event) for event in self.events]


def event_messages_of(items: list[RecordedItem[RecordedContent]]) -> list[bytes]:
    """Encode the events among items as a recording has them."""
    return [encode_message(item.content) for item in items if type(item.content) in EVENT_TOPICS]


def from_inputs(events: Iterable[SessionEvent]) -> list[bytes]:
    """Encode events without those that no input causes: the session's start, and problems of the recorder."""
    return [encode_message(each) for each in events if type(each) not in NOT_FROM_INPUTS]


def session_changes(events: list[SessionEvent]) -> list[SessionChange]:
    """Return the session changes among events."""
    return [each for each in events if isinstance(each, SessionChange)]
