"""A rig whose sessions are recorded on clocks that are moved by hand, for the tests of recordings.

Takes: a pack and a folder.  Gives: `Booth`: send, ask, let time pass, write, and read back.
"""

from __future__ import annotations

from pathlib import Path

from bridge.recording.device_recording import DeviceRecording
from bridge.recording.file_format import EVENT_TOPICS, encode_message
from bridge.recording.reader import RecordedItem, Recording, open_recording
from bridge.recording.recorder import Recorder
from bridge.recording.retention import list_recordings
from bridge.recording.writer import FileOpener, RecordingLimits, open_private
from bridge.runtime.control import Request, Verb
from bridge.runtime.device import Device, build_device
from bridge.session.session_events import NOT_FROM_INPUTS, SessionChanged, SessionEvent
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, FrameSender
from tests.contract.waiting import ManualClock

BEGAN_UTC = 1_795_579_200.0
"""25 November 2026, 04:00 UTC."""
NO_FREE_SPACE_LIMIT = RecordingLimits(min_free_bytes=0)


class RecordedDevice:
    """One device, recorded; nothing happens by itself."""

    def __init__(
        self,
        pack: Pack,
        folder: Path,
        limits: RecordingLimits = NO_FREE_SPACE_LIMIT,
        *,
        opener: FileOpener = open_private,
        free: int = 10**12,
    ) -> None:
        """Its first session is recorded from its beginning."""
        self.pack, self.folder = pack, folder
        self.clock, self.wall, self.free = ManualClock(), ManualClock(BEGAN_UTC), free
        self.device: Device = build_device(pack, TRIP, "udp://127.0.0.1:0", wall_clock=self.wall)
        self.device.runner.clock = self.clock
        self.events: list[SessionEvent] = []
        self.device.add_listener(self.events.append)
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
        """One frame arrives now."""
        self.device.session.receive(self.sender.datagram(sim_s, values, **calls), self.clock())

    def request(self, verb: Verb, name: str = "", reason: str = "") -> None:
        """Somebody asks something."""
        self.device.handle(Request(verb, name, "instructor", reason))

    def wait(self, by_s: float) -> None:
        """Time passes on both clocks; the rig ticks."""
        self.clock.now_s += by_s
        self.wall.now_s += by_s
        self.device.runner.tick()

    def fly(self, seconds: int, *, since_s: int = 0) -> None:
        """A beacon that is switched each second, and a pressure that moves."""
        for second in range(since_s, since_s + seconds):
            self.send(
                second,
                {"lights.beacon": "on" if second % 2 else "off", "hydraulics.1.pressure": 2000.0 + second},
            )
            self.wait(1.0)
            self.recorder.write_queued()

    def items(self) -> list[RecordedItem]:
        """The first recording of the folder, read whole."""
        return list(self.read().items())

    def read(self) -> Recording:
        """The first recording of the folder."""
        return open_recording(list_recordings(self.folder)[0].parts[0])

    def event_messages(self) -> list[bytes]:
        """What was told, as it is recorded."""
        return [encode_message(told) for told in self.events]


def event_messages_of(items: list[RecordedItem]) -> list[bytes]:
    """What came out, of lines read back, as it is recorded."""
    return [encode_message(line.content) for line in items if type(line.content) in EVENT_TOPICS]


def from_inputs(messages: list[bytes]) -> list[bytes]:
    """What the core and requests say; a session's beginning and what its recording says of itself are not brought about by inputs."""
    own = tuple(f'"change":"{change}"'.encode() for change in NOT_FROM_INPUTS)
    return [each for each in messages if not any(word in each for word in own)]


def session_changes(events: list[SessionEvent]) -> list[SessionChanged]:
    """The notes of sessions among what was told."""
    return [each for each in events if isinstance(each, SessionChanged)]
