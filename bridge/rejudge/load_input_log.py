"""Loads a recording into an input log, and collects its recorded events.

Takes: a recording.  Gives: `LoadedInputLog`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from bridge.recording.frame_codec import StoredFrame
from bridge.recording.reader import Recording, ReplayContent, StoredEvent
from bridge.session.requests import Request
from bridge.session.session_input import ClockTick
from rules.faults import InputFaults
from rules.judge.events import JudgeEvent
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import parse_trip_sheet
from rules.signals.input_log import InputLog
from rules.signals.model import Frame, Value
from rules.source import parse_source

PROGRESS_INTERVAL = 2000
"""Inputs and events between two calls of `progress`."""


@dataclass(frozen=True, slots=True)
class RecordedRequest:
    """A request in the input log, passed to the session that judges it."""

    request: Request
    utc: float
    handle: Callable[[Request, float], None]

    def trip_values(self, pack: Pack) -> Mapping[str, Value]:
        """Return the trip values of an amended sheet; none if it has faults, since it is refused then."""
        if self.request.verb != "amend":
            return {}
        try:
            source = parse_source(self.request.reason, self.request.name or "trip sheet")
            return parse_trip_sheet(source, pack.signals).values
        except InputFaults:
            return {}

    def apply(self, judge: Judge) -> list[JudgeEvent]:  # noqa: ARG002 - the session that handles it has the judge
        """Pass the request to the session, which publishes its events."""
        self.handle(self.request, self.utc)
        return []


@dataclass(slots=True)
class LoadedInputLog:
    """A recording as an input log; `utc` has the wall clock of each frame, `outputs` the events: channel and bytes.

    `frame_counts` has for each output the number of frames before it.
    """

    input_log: InputLog = field(default_factory=InputLog)
    utc: list[float] = field(default_factory=list)
    outputs: list[tuple[str, bytes]] = field(default_factory=list)
    frame_counts: list[int] = field(default_factory=list)


class InputLogLoader:
    """Loads a recording into an input log, as `bridge.recording.replay_judge` feeds it to a session."""

    def __init__(self, recording: Recording, handle: Callable[[Request, float], None]) -> None:
        """Prepare to load a recording.

        Args:
            recording: The recording.
            handle: Called with each request and its time, in its turn.
        """
        self._recording = recording
        self._handle = handle
        self._loaded = LoadedInputLog()
        self._running, self._ended = True, False

    def load(self, progress: Callable[[int], None] = lambda _: None) -> LoadedInputLog:
        """Load the whole recording, as far as it can be read; its `fault` then names the place where it ends.

        Args:
            progress: Called with the number of inputs and events read since the last call.
        """
        for number, item in enumerate(self._recording.replay_items(), start=1):
            self._add_item(item.content, item.utc)
            if not number % PROGRESS_INTERVAL:
                progress(PROGRESS_INTERVAL)
        return self._loaded

    def _add_item(self, content: ReplayContent, utc: float) -> None:
        match content:
            case StoredFrame() if not content.message.samples:
                self._add_plain_frame(content, utc)
            case StoredEvent():
                self._loaded.outputs.append(content)
                self._loaded.frame_counts.append(len(self._loaded.utc))
            case ClockTick():
                if self._running:
                    self._loaded.input_log.append_stale_check(content.recv_s)
            case StoredFrame():
                self._add_frame(content.frame(), utc)
            case Frame():
                self._add_frame(content, utc)
            case Request():
                self._add_request(content, utc)

    def _add_plain_frame(self, stored: StoredFrame, utc: float) -> None:
        """Add a frame without making its samples, which would take longer than everything else here."""
        if self._running:
            frame = stored.message
            self._loaded.input_log.append(
                frame.sim_s,
                frame.recv_s,
                frame.epoch,
                stored.bundle.names,
                frame.values,
                frame.calls,
                frame.missing_from_s,
                frame.missing_records,
            )
            self._loaded.utc.append(utc)

    def _add_frame(self, frame: Frame, utc: float) -> None:
        if self._running:
            self._loaded.input_log.append_frame(frame)
            self._loaded.utc.append(utc)

    def _add_request(self, request: Request, utc: float) -> None:
        """Add a request; a pause leaves out inputs until it is over."""
        self._loaded.input_log.append_request(RecordedRequest(request, utc, self._handle))
        match request.verb:
            case "pause":
                self._running = False
            case "resume":
                self._running = not self._ended
            case "end":
                self._running, self._ended = False, True
            case _:
                pass
