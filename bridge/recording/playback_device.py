"""Builds a device that plays a recording from an address such as `recording:PATH?from=0:10:00&to=0:20:00&speed=4`.

Takes: an address.  Gives: a `Playback` with its device and player.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qsl

import structlog

from adapters.frame_source import FrameSource
from bridge.common.time_text import format_sim_time, parse_sim_time
from bridge.recording.file_format import RecordingHead
from bridge.recording.playback import PlaybackController
from bridge.recording.player import MAX_SPEED, MIN_SPEED, RecordingPlayer
from bridge.recording.reader import open_recording
from bridge.recording.recording_link import RecordingLink
from bridge.recording.replay_judge import trip_of_head
from bridge.recording.replay_receiver import ReplayReceiver, ReplayRunner
from bridge.runtime.device import Device
from bridge.runtime.runner import SessionRunner
from bridge.session.session import Session
from rules.faults import Fault, InputFaults, Place
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import TripSheet
from rules.source import unknown_fault
from rules.words import join_or

SCHEME = "recording:"
_OPTIONS = ("from", "to", "speed")


@dataclass(frozen=True, slots=True)
class PlaybackRange:
    """The file to play, the start and end in seconds, and the speed."""

    path: Path
    start_s: float = 0.0
    end_s: float = math.inf
    speed: float = 1.0


def parse_recording_address(address: str) -> PlaybackRange:
    """Parse an address.

    Raises:
        InputFaults: Every fault of the address.
    """
    path, _, options = address.removeprefix(SCHEME).partition("?")
    given = dict(parse_qsl(options, keep_blank_values=True))
    faults, read = list[Fault](), dict[str, float]()
    for key, text in given.items():
        value = parse_sim_time(text) if key in ("from", "to") else _parse_speed(text)
        if key not in _OPTIONS:
            faults.append(unknown_fault(Place(address), "option", key, _OPTIONS, join_or(_OPTIONS)))
        elif value is None:
            expected = f"{MIN_SPEED:g} to {MAX_SPEED:g}" if key == "speed" else "a time such as 0:10:00"
            faults.append(Fault(Place(address), f"{key} is {text or 'empty'}", expected))
        else:
            read[key] = value
    if not path:
        faults.append(Fault(Place(address), "the file is missing", f"{SCHEME}PATH"))
    if faults:
        raise InputFaults(faults)
    return PlaybackRange(Path(path), read.get("from", 0.0), read.get("to", math.inf), read.get("speed", 1.0))


def _parse_speed(text: str) -> float | None:
    try:
        speed = float(text)
    except ValueError:
        return None
    return speed if MIN_SPEED <= speed <= MAX_SPEED else None


class Playback:
    """A recording as a device, with the player that the page and the command line control."""

    def __init__(
        self,
        address: str,
        pack: str = "",
        trip: TripSheet | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
        wall_clock: Callable[[], float] = time.time,
    ) -> None:
        """Read the head and build the device; nothing is played yet.

        Args:
            address: The recording and the range to play.
            pack: Another pack than that of the recording; its name or folder.
            trip: Another trip sheet than that of the recording.
            clock: The monotonic clock in seconds.
            wall_clock: Seconds since 1970.

        Raises:
            InputFaults: The address is wrong, the file is not a recording, or its pack is not found.
        """
        playback_range = parse_recording_address(address)
        recording = open_recording(playback_range.path)
        self.head: RecordingHead = recording.head
        self.trip = trip or trip_of_head(self.head)
        rules = load_pack(pack or self.head.pack.id, trip=self.trip)
        self.same_rules = rules.source_digest == self.head.pack.digest
        if not self.same_rules:
            structlog.get_logger("replay").warning(
                "another pack than recorded", pack=rules.id, recorded=self.head.pack.id
            )
        self.player = RecordingPlayer(
            recording,
            clock,
            start_s=playback_range.start_s,
            end_s=playback_range.end_s,
            speed=playback_range.speed,
        )
        receiver = ReplayReceiver(rules, f"recording {playback_range.path.name}")

        def make_runner(session: Session, source: FrameSource) -> SessionRunner:
            return ReplayRunner(
                session,
                source,
                receiver,
                start_session=self._start_session,
                is_finished=lambda: self.player.ended,
            )

        self.device = Device(
            rules,
            self.trip,
            FrameSource(receiver, lambda: RecordingLink(self.player, clock=clock), address, clock=clock),
            make_runner,
            device_id=self.head.device,
            title=self.head.title,
            wall_clock=wall_clock,
        )
        self.device.playback_control = PlaybackController(self.player)

    def _start_session(self) -> None:
        """Start a new session at the present position, unless the first one has judged nothing yet."""
        if self.device.session.current_snapshot().phase:
            self.device.start_session(f"from {format_sim_time(self.player.position_s)}")
        known, judge = self.device.pack.signals, self.device.session.judge
        judge.update_trip({name: value for name, value in self.trip.values.items() if name in known})
