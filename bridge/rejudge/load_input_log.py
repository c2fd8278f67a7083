"""Loads a recording into an input log, and collects its recorded events.

Takes: the messages of a recording.  Gives: `LoadedInputLog`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import msgspec

from bridge.recording.file_format import (
    BUNDLE,
    EVENT_PREFIX,
    FRAME,
    KEYFRAME,
    LOST,
    REQUEST,
    TICK,
    FrameMessage,
    FramesLost,
    NameBundle,
    RecordingKeyframe,
    RequestMessage,
    TickMessage,
)
from bridge.recording.frame_codec import FrameDecoder, keyframe_to_frame
from bridge.recording.mcap_messages import McapMessage
from bridge.recording.reader import Recording
from bridge.session.requests import Request
from rules.faults import Fault, InputFaults, Place
from rules.judge.events import JudgeEvent
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import parse_trip_sheet
from rules.signals.input_log import InputLog
from rules.signals.model import Value
from rules.source import parse_source

PROGRESS_INTERVAL = 2000
"""Messages between two calls of `progress`."""


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
    """Loads messages into an input log in the way in which `bridge.recording.replay_judge` feeds a session."""

    def __init__(self, recording: Recording, handle: Callable[[Request, float], None]) -> None:
        """Prepare to load a recording.

        Args:
            recording: The recording.
            handle: Called with each request and its time, in its turn.
        """
        self._recording = recording
        self._handle = handle
        self._loaded = LoadedInputLog()
        self._frame_decoder = FrameDecoder()
        self._names: dict[int, tuple[str, ...]] = {}
        self._link = ""
        self._frames_missing = recording.head.part > 1
        self._running, self._ended = True, False
        self._frame_json = msgspec.json.Decoder(FrameMessage)
        self._other_handlers: dict[str, Callable[[McapMessage], None]] = {
            BUNDLE: self._add_bundle,
            TICK: self._add_tick,
            REQUEST: lambda message: self._add_request(
                msgspec.json.decode(message.data, type=RequestMessage), message.utc
            ),
            LOST: self._add_loss,
            KEYFRAME: self._apply_keyframe,
        }

    def load(self, progress: Callable[[int], None] = lambda _: None) -> LoadedInputLog:
        """Load the whole recording, as far as it can be read; its `fault` then names the place where it ends.

        Args:
            progress: Called with the number of messages read since the last call.
        """
        for number, message in enumerate(self._recording.messages(), start=1):
            try:
                self._load_message(message)
            except (msgspec.MsgspecError, KeyError, RecursionError) as error:
                self._recording.fault = _unreadable_fault(self._recording, message, error)
                break
            if not number % PROGRESS_INTERVAL:
                progress(PROGRESS_INTERVAL)
        return self._loaded

    def _load_message(self, message: McapMessage) -> None:
        if message.topic == FRAME:
            self._add_frame(self._frame_json.decode(message.data), message.utc)
        elif message.topic.startswith(EVENT_PREFIX):
            self._loaded.outputs.append((message.topic, message.data))
            self._loaded.frame_counts.append(len(self._loaded.utc))
        elif message.topic in self._other_handlers:
            self._other_handlers[message.topic](message)

    def _add_frame(self, message: FrameMessage, utc: float) -> None:
        names = self._names[message.bundle]
        if not self._running:
            return
        if message.samples:
            frame = self._frame_decoder.decode(message)
            self._loaded.input_log.append_frame(frame)
        else:
            self._loaded.input_log.append(
                message.sim_s, message.recv_s, message.epoch, names, message.values, message.calls
            )
        self._loaded.utc.append(utc)

    def _add_bundle(self, message: McapMessage) -> None:
        bundle = msgspec.json.decode(message.data, type=NameBundle)
        self._frame_decoder.add_bundle(bundle)
        self._names[bundle.number] = bundle.names
        self._link = bundle.link

    def _add_tick(self, message: McapMessage) -> None:
        if self._running:
            self._loaded.input_log.append_stale_check(
                msgspec.json.decode(message.data, type=TickMessage).recv_s
            )

    def _add_request(self, message: RequestMessage, utc: float) -> None:
        """Add a request; a pause leaves out inputs until it is over."""
        request = message.request
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

    def _add_loss(self, message: McapMessage) -> None:
        self._frames_missing = (
            self._frames_missing or msgspec.json.decode(message.data, type=FramesLost).frames > 0
        )

    def _apply_keyframe(self, message: McapMessage) -> None:
        """Continue from the complete state if frames are missing before it."""
        if not self._frames_missing:
            return
        keyframe = msgspec.json.decode(message.data, type=RecordingKeyframe)
        first = not len(self._loaded.input_log)
        self._frames_missing = False
        if self._running:
            self._loaded.input_log.append_frame(
                keyframe_to_frame(keyframe, self._link, keyframe.calls if first else ())
            )
            self._loaded.utc.append(message.utc)
        for request in keyframe.requests if first else ():
            self._add_request(request, message.utc)


def _unreadable_fault(recording: Recording, message: McapMessage, error: Exception) -> Fault:
    reason = f"message {message.sequence} of {message.topic} cannot be read ({error})"
    return Fault(Place(str(recording.paths[0])), reason, "a message as this program writes it")
