"""A rig whose sessions are recorded on clocks that are moved by hand, for the tests of recordings.

Takes: a pack and a folder.  Gives: `Booth`: send, ask, let time pass, write, and read back.
"""

from __future__ import annotations

from pathlib import Path

from bridge.control import Request, Verb
from bridge.notes import OF_KEEPING, SessionNoted, Told
from bridge.record.form import TOPICS, encode
from bridge.record.keeping import Watched
from bridge.record.reader import Line, Recording, open_recording
from bridge.record.recorder import Recorder
from bridge.record.shelf import recordings
from bridge.record.writer import Limits, Opener, open_new
from bridge.rig import Rig, build_rig
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.making import PAPERS, Sender
from tests.contract.until import Clock

BEGAN_UTC = 1_795_579_200.0
"""25 November 2026, 04:00 UTC."""
ROOMY = Limits(least_free=0)


class Booth:
    """One device, recorded; nothing happens by itself."""

    def __init__(
        self,
        pack: Pack,
        folder: Path,
        limits: Limits = ROOMY,
        *,
        opener: Opener = open_new,
        free: int = 10**12,
    ) -> None:
        """Its first session is recorded from its beginning."""
        self.pack, self.folder = pack, folder
        self.clock, self.wall, self.free = Clock(), Clock(BEGAN_UTC), free
        self.rig: Rig = build_rig(pack, PAPERS, "udp://127.0.0.1:0", wall=self.wall)
        self.rig.run.clock = self.clock
        self.told: list[Told] = []
        self.rig.listen(self.told.append)
        self.recorder = Recorder(
            folder, limits, opener=opener, free=lambda _: self.free, clock=self.clock, wall=self.wall
        )
        self.watched = Watched(self.rig, self.recorder)
        self.sender = Sender()

    def send(self, sim_s: float, values: dict[str, Value] | None = None, **calls: float) -> None:
        """One frame arrives now."""
        self.rig.session.take(self.sender.datagram(sim_s, values, **calls), self.clock())

    def ask(self, verb: Verb, name: str = "", reason: str = "") -> None:
        """Somebody asks something."""
        self.rig.answer(Request(verb, name, "instructor", reason))

    def wait(self, by_s: float) -> None:
        """Time passes on both clocks; the rig ticks."""
        self.clock.now_s += by_s
        self.wall.now_s += by_s
        self.rig.run.tick()

    def fly(self, seconds: int, *, since_s: int = 0) -> None:
        """A beacon that is switched each second, and a pressure that moves."""
        for second in range(since_s, since_s + seconds):
            self.send(
                second,
                {"lights.beacon": "on" if second % 2 else "off", "hydraulics.1.pressure": 2000.0 + second},
            )
            self.wait(1.0)
            self.recorder.work()

    def lines(self) -> list[Line]:
        """The first recording of the folder, read whole."""
        return list(self.read().lines())

    def read(self) -> Recording:
        """The first recording of the folder."""
        return open_recording(recordings(self.folder)[0].parts[0])

    def outputs(self) -> list[bytes]:
        """What was told, as it is recorded."""
        return [encode(told) for told in self.told]


def outputs_of(lines: list[Line]) -> list[bytes]:
    """What came out, of lines read back, as it is recorded."""
    return [encode(line.what) for line in lines if type(line.what) in TOPICS]


def judged(told: list[bytes]) -> list[bytes]:
    """What the core and requests say; a session's beginning and what its recording says of itself are not brought about by inputs."""
    own = tuple(f'"change":"{change}"'.encode() for change in OF_KEEPING)
    return [each for each in told if not any(word in each for word in own)]


def changes(told: list[Told]) -> list[SessionNoted]:
    """The notes of sessions among what was told."""
    return [each for each in told if isinstance(each, SessionNoted)]
