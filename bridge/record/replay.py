"""A recording as a link: `recording:PATH?from=0:10:00&to=0:20:00&speed=4`.

Takes: an address.  Gives: a `Rig` that plays it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qsl

import structlog

from bridge.live import Run
from bridge.record.again import trip_of
from bridge.record.form import Head
from bridge.record.keeping import digest_of
from bridge.record.knobs import Knobs
from bridge.record.link import RecordingLink, clocked
from bridge.record.player import FASTEST, SLOWEST, Player
from bridge.record.reader import open_recording
from bridge.record.received import RecordedReceiver, Replay
from bridge.record.times import seconds_of
from bridge.rig import Rig
from bridge.session import Session
from bridge.supervise import Upkeep
from rules.faults import Fault, InputFaults, Place
from rules.packs.load import load_pack
from rules.packs.trip import Trip
from rules.source import did_you_mean

SCHEME = "recording:"
_OPTIONS = ("from", "to", "speed")


@dataclass(frozen=True, slots=True)
class Cue:
    """What to play: the file, where to begin and end (seconds), how fast."""

    path: Path
    from_s: float = 0.0
    to_s: float = math.inf
    speed: float = 1.0


def cue_of(address: str) -> Cue:
    """Read an address.

    Raises:
        InputFaults: It cannot be understood; every fault.
    """
    where, _, options = address.removeprefix(SCHEME).partition("?")
    said = dict(parse_qsl(options, keep_blank_values=True))
    faults, read = list[Fault](), dict[str, float]()
    for key, text in said.items():
        value = seconds_of(text) if key in ("from", "to") else _speed(text)
        if key not in _OPTIONS:
            expected, hint = f"one of {', '.join(_OPTIONS)}", did_you_mean(key, _OPTIONS)
            faults.append(Fault(Place(address), f"unknown option {key}", expected, hint))
        elif value is None:
            expected = f"{SLOWEST:g} to {FASTEST:g}" if key == "speed" else "a time such as 0:10:00"
            faults.append(Fault(Place(address), f"{key} is {text or 'empty'}", expected))
        else:
            read[key] = value
    if not where:
        faults.append(Fault(Place(address), "no file is named", f"{SCHEME}PATH"))
    if faults:
        raise InputFaults(faults)
    return Cue(Path(where), read.get("from", 0.0), read.get("to", math.inf), read.get("speed", 1.0))


def _speed(text: str) -> float | None:
    try:
        speed = float(text)
    except ValueError:
        return None
    return speed if SLOWEST <= speed <= FASTEST else None


class Stage:
    """A recording on its rig, with the player that the crew's screens may turn."""

    def __init__(
        self,
        address: str,
        pack: str = "",
        trip: Trip | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
    ) -> None:
        """Read the head and put a rig together; nothing is played yet.

        Args:
            address: The recording, and what of it.
            pack: Another pack than the one it was judged by; its id or folder.
            trip: Other papers than those that it was judged on.
            clock: The monotonic clock in seconds.
            wall: Seconds since 1970.

        Raises:
            InputFaults: The address cannot be understood, that is no recording, or its pack is not to be had.
        """
        cue = cue_of(address)
        recording = open_recording(cue.path)
        self.head: Head = recording.head
        self.papers = trip or trip_of(self.head)
        rules = load_pack(pack or self.head.pack.id, trip=self.papers)
        self.same_rules = digest_of(rules) == self.head.pack.digest
        if not self.same_rules:
            structlog.get_logger("replay").warning(
                "another pack than recorded", pack=rules.id, recorded=self.head.pack.id
            )
        self.player = Player(recording, clock, from_s=cue.from_s, to_s=cue.to_s, speed=cue.speed)
        receiver = RecordedReceiver(rules, f"recording {cue.path.name}")

        def run(session: Session) -> Run:
            return Replay(
                session,
                lambda: RecordingLink(self.player, clock=clock),
                Upkeep(),
                address,
                clock,
                begin=self._begin,
                over=lambda: self.player.ended,
            )

        self.rig = Rig(
            rules, self.papers, receiver, run, name=self.head.device, title=self.head.title, wall=wall
        )
        self.rig.knobs = Knobs(self.player)

    def _begin(self) -> None:
        """Another session from another place; the first one will do where nothing was judged yet."""
        if self.rig.session.core.session.phase:
            self.rig.begin(f"from {clocked(self.player.position_s)}")
        known = self.rig.pack.signals
        self.rig.session.core.amend(
            {name: value for name, value in self.papers.values.items() if name in known}
        )
