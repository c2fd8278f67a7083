"""From a recording to a tape, and to what came out when it was recorded.

Takes: the rows of a recording.  Gives: `Taped`.
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
"""So many rows are read between two words of progress."""


@dataclass(frozen=True, slots=True)
class RecordedRequest:
    """A request on the tape, asked of whoever judges it."""

    request: Request
    utc: float
    handle: Callable[[Request, float], None]

    def trip_values(self, pack: Pack) -> Mapping[str, Value]:
        """The papers of an amended sheet; none where that has faults, for then it is not taken."""
        if self.request.verb != "amend":
            return {}
        try:
            source = parse_source(self.request.reason, self.request.name or "trip sheet")
            return parse_trip_sheet(source, pack.signals).values
        except InputFaults:
            return {}

    def apply(self, core: Judge) -> list[JudgeEvent]:  # noqa: ARG002 - the session that grants it has the core
        """Let it be granted; what that says is told there."""
        self.handle(self.request, self.utc)
        return []


@dataclass(slots=True)
class LoadedInputLog:
    """A recording as a tape; `utc` has the wall's clock of each frame, `outputs` what came out: channel and bytes.

    `places` has for each output how many frames were on the tape by then.
    """

    input_log: InputLog = field(default_factory=InputLog)
    utc: list[float] = field(default_factory=list)
    outputs: list[tuple[str, bytes]] = field(default_factory=list)
    frame_counts: list[int] = field(default_factory=list)


class InputLogLoader:
    """Puts rows on a tape, as `bridge.recording.replay_judge` lets a session have them."""

    def __init__(self, recording: Recording, handle: Callable[[Request, float], None]) -> None:
        """Nothing read yet.

        Args:
            recording: What was recorded.
            handle: Called with each request and its time, when its turn comes.
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
            REQUEST: lambda row: self._add_request(
                msgspec.json.decode(row.data, type=RequestMessage), row.utc
            ),
            LOST: self._note_loss,
            KEYFRAME: self._apply_keyframe,
        }

    def load(self, progress: Callable[[int], None] = lambda _: None) -> LoadedInputLog:
        """Read all of it, as far as it goes; the recording's `fault` says where that is.

        Args:
            progress: Called now and then with how many rows were read since the last time.
        """
        for number, row in enumerate(self._recording.messages(), start=1):
            try:
                self._load_message(row)
            except (msgspec.MsgspecError, KeyError, RecursionError) as error:
                self._recording.fault = _unreadable_fault(self._recording, row, error)
                break
            if not number % PROGRESS_INTERVAL:
                progress(PROGRESS_INTERVAL)
        return self._loaded

    def _load_message(self, row: McapMessage) -> None:
        if row.topic == FRAME:
            self._add_frame(self._frame_json.decode(row.data), row.utc)
        elif row.topic.startswith(EVENT_PREFIX):
            self._loaded.outputs.append((row.topic, row.data))
            self._loaded.frame_counts.append(len(self._loaded.utc))
        elif row.topic in self._other_handlers:
            self._other_handlers[row.topic](row)

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

    def _add_bundle(self, row: McapMessage) -> None:
        bundle = msgspec.json.decode(row.data, type=NameBundle)
        self._frame_decoder.add_bundle(bundle)
        self._names[bundle.number] = bundle.names
        self._link = bundle.link

    def _add_tick(self, row: McapMessage) -> None:
        if self._running:
            self._loaded.input_log.append_stale_check(msgspec.json.decode(row.data, type=TickMessage).recv_s)

    def _add_request(self, message: RequestMessage, utc: float) -> None:
        """A request; a pause leaves out what comes until it is over."""
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

    def _note_loss(self, row: McapMessage) -> None:
        self._frames_missing = (
            self._frames_missing or msgspec.json.decode(row.data, type=FramesLost).frames > 0
        )

    def _apply_keyframe(self, row: McapMessage) -> None:
        """Go on from how everything stood, where frames are missing before this."""
        if not self._frames_missing:
            return
        picture = msgspec.json.decode(row.data, type=RecordingKeyframe)
        begins = not len(self._loaded.input_log)
        self._frames_missing = False
        if self._running:
            self._loaded.input_log.append_frame(
                keyframe_to_frame(picture, self._link, picture.calls if begins else ())
            )
            self._loaded.utc.append(row.utc)
        for request in picture.requests if begins else ():
            self._add_request(request, row.utc)


def _unreadable_fault(recording: Recording, row: McapMessage, error: Exception) -> Fault:
    said = f"message {row.sequence} of {row.topic} cannot be read ({error})"
    return Fault(Place(str(recording.paths[0])), said, "a message as this program writes it")
