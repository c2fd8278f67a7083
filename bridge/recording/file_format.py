"""Defines the format of a recording: its channels and the fields of the messages on each.

    /head                 the session: pack, trip sheet, device and start; first in every part
    /keyframe             the complete state at the start of a later part
    /bundle               the signal names that a link carries, by the number that frames use
    /frame /tick /request the inputs, in the order in which they were judged
    /event/KIND           the outputs: one channel for each kind of event
    /lost                 frames that could not be recorded

Each message is JSON, with its JSON schema in the file.  `log_time` is the wall clock when the input was judged, in
nanoseconds since 1970 (it may jump back); `publish_time` is the simulator's clock in nanoseconds; `sequence` counts
the session's messages from 1 and is their true order.

Takes: events and requests.  Gives: the types of the other messages, and `CHANNELS` with the type of each.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from bridge.session import session_events
from bridge.session.requests import Request, Verb
from rules.signals.model import Quality, Value

FORMAT_VERSION = 1
"""The version of this format; raised when a reader of the old version could not read the new one."""

PROFILE = "holdshort"
EVENT_PREFIX = "/event/"
HEAD, KEYFRAME, BUNDLE, FRAME, TICK, REQUEST, LOST = (
    "/head", "/keyframe", "/bundle", "/frame", "/tick", "/request", "/lost",
)  # fmt: skip

FullSample = tuple[str, float | int | bool | str | None, Quality, float]
"""A sample that has no plain form: name, value, quality, simulator time."""


class RecordedPack(msgspec.Struct, frozen=True):
    """The pack that judged the session; `digest` is a hash of its whole content, '' if it was not calculated."""

    id: str = msgspec.field(name="id")
    title: str = msgspec.field(name="title")
    version: str = msgspec.field(name="version")
    digest: str = msgspec.field(default="", name="digest")


class RecordedTrip(msgspec.Struct, frozen=True):
    """The trip sheet at the start of the session, in the units of the signal book."""

    title: str = msgspec.field(name="title")
    values: dict[str, float | str] = msgspec.field(name="values")
    inoperative: tuple[str, ...] = msgspec.field(default=(), name="inoperative")
    note: str = msgspec.field(default="", name="note")
    calls: tuple[str, ...] | None = msgspec.field(default=None, name="calls")


class RecordingHead(msgspec.Struct, frozen=True):
    """The state of a session at its start.

    `part` counts the files of one session from 1; `first_sequence` is the sequence of the part's first message after its
    head, keyframe and bundles, which have that number too.
    """

    format_version: int = msgspec.field(name="format_version")
    program: str = msgspec.field(name="program")
    session: str = msgspec.field(name="session")
    name: str = msgspec.field(name="name")
    device: str = msgspec.field(name="device")
    title: str = msgspec.field(name="title")
    began_utc: float = msgspec.field(name="began_utc")
    pack: RecordedPack = msgspec.field(name="pack")
    trip: RecordedTrip = msgspec.field(name="trip")
    calls_expected: bool = msgspec.field(default=False, name="calls_expected")
    part: int = msgspec.field(default=1, name="part")
    first_sequence: int = msgspec.field(default=1, name="first_sequence")
    course: str = msgspec.field(default="", name="course")


class NameBundle(msgspec.Struct, frozen=True):
    """The signal names in frames with this number, and the link that delivered them."""

    number: int = msgspec.field(name="number")
    link: str = msgspec.field(name="link")
    names: tuple[str, ...] = msgspec.field(name="names")


class FrameMessage(msgspec.Struct, frozen=True, omit_defaults=True):
    """One frame: its clocks, and the values that changed since the frame before.

    `values` are fresh, or null where the sender sent no value (invalid).  If any sample has another time than the frame,
    another quality, or a value that JSON cannot express, all samples of the frame are in `samples` instead, in order.
    `missing_from_s` is set where records before the frame never arrived: the time of the first of them; `missing_records` is
    how many.
    """

    sim_s: float = msgspec.field(name="sim_s")
    recv_s: float = msgspec.field(name="recv_s")
    epoch: int = msgspec.field(name="epoch")
    bundle: int = msgspec.field(name="bundle")
    values: dict[str, float | str | None] = msgspec.field(default_factory=dict, name="values")
    calls: tuple[str, ...] = msgspec.field(default=(), name="calls")
    samples: tuple[FullSample, ...] = msgspec.field(default=(), name="samples")
    missing_from_s: float | None = msgspec.field(default=None, name="missing_from_s")
    missing_records: int | None = msgspec.field(default=None, name="missing_records")


class TickMessage(msgspec.Struct, frozen=True):
    """Time passed without data; at `recv_s` at least one value became stale."""

    recv_s: float = msgspec.field(name="recv_s")


class RequestMessage(msgspec.Struct, frozen=True, omit_defaults=True):
    """A request, with the wall clock at which it was made (seconds since 1970)."""

    utc: float = msgspec.field(name="utc")
    verb: str = msgspec.field(name="verb")
    name: str = msgspec.field(name="name")
    by: str = msgspec.field(default="", name="by")
    reason: str = msgspec.field(default="", name="reason")
    device: str = msgspec.field(default="", name="device")

    @property
    def request(self) -> Request:
        """The request itself.

        Raises:
            msgspec.ValidationError: The verb is unknown to this version.
        """
        verb = msgspec.convert(self.verb, Verb)
        return Request(verb, self.name, self.by, self.reason, self.device)


class RecordingKeyframe(msgspec.Struct, frozen=True):
    """The complete state: signal values, entered calls, and requests that are still in effect.

    Later frames build on it.  `requests` are changes of the trip sheet, waivers, confirmations and seats.
    """

    sim_s: float = msgspec.field(name="sim_s")
    recv_s: float = msgspec.field(name="recv_s")
    epoch: int = msgspec.field(name="epoch")
    values: dict[str, float | str | None] = msgspec.field(name="values")
    calls: tuple[str, ...] = msgspec.field(default=(), name="calls")
    requests: tuple[RequestMessage, ...] = msgspec.field(default=(), name="requests")


class FramesLost(msgspec.Struct, frozen=True):
    """A number of frames and ticks were not recorded because the disk was too slow; a keyframe follows.

    `sim_s` is the simulator's clock at the last of them, `missing_from_s` at the first; null where only ticks are missing.
    """

    frames: int = msgspec.field(name="frames")
    ticks: int = msgspec.field(name="ticks")
    since_utc: float = msgspec.field(name="since_utc")
    sim_s: float = msgspec.field(name="sim_s")
    missing_from_s: float | None = msgspec.field(default=None, name="missing_from_s")


EVENT_TYPES: Mapping[str, type[Any]] = {
    f"{EVENT_PREFIX}{name}": kind for kind, name in session_events.KINDS.items()
}
"""The message class of each event channel."""
EVENT_TOPICS: Mapping[type[Any], str] = {kind: topic for topic, kind in EVENT_TYPES.items()}

CHANNELS: Mapping[str, type[Any]] = {
    HEAD: RecordingHead,
    KEYFRAME: RecordingKeyframe,
    BUNDLE: NameBundle,
    FRAME: FrameMessage,
    TICK: TickMessage,
    REQUEST: RequestMessage,
    LOST: FramesLost,
    **EVENT_TYPES,
}
CHANNEL_MEANINGS: Mapping[str, str] = {
    HEAD: "First in every part: the session, its device, pack (with a digest), trip sheet, course, the program's version.",
    KEYFRAME: (
        "The complete state, at the start of a later part and after a loss: values, calls, and the requests that are "
        "still in effect."
    ),
    BUNDLE: "The names that frames with this number carry, and the link that delivered them.",
    FRAME: "The clocks, the values that changed since the frame before, and from when on records before it are missing.",
    TICK: "Time passed without data, and a value became stale.",
    REQUEST: "A request: calls, remarks, seats, pauses, changes of the trip sheet, and so on.",
    LOST: "A number of frames and ticks were not recorded, because the disk was too slow; a keyframe follows.",
}
"""The content of each channel without events, for the documents."""

_ENCODER = msgspec.json.Encoder(enc_hook=str)


def encode_message(message: object) -> bytes:
    """Encode one message as JSON; an unpaired surrogate becomes `?`."""
    try:
        return _ENCODER.encode(message)
    except UnicodeEncodeError:
        return _ENCODER.encode(_without_surrogates(msgspec.to_builtins(message, str_keys=True, enc_hook=str)))


def _without_surrogates(value: Any) -> Any:  # noqa: ANN401 - any plain data
    """Replace unpaired surrogates in plain data, which UTF-8 cannot encode."""
    match value:
        case str():
            return value.encode(errors="replace").decode()
        case dict():
            return {_without_surrogates(key): _without_surrogates(part) for key, part in value.items()}
        case list() | tuple():
            return [_without_surrogates(part) for part in value]
    return value


def json_schema_of(kind: type[Any]) -> bytes:
    """Return the JSON schema of a channel's messages, with an object at its root, as readers of recordings expect."""
    schema = msgspec.json.schema(kind, schema_hook=lambda _: {"type": "string"})
    return msgspec.json.encode(_inlined(schema, schema.get("$defs", {})))


def _inlined(part: Any, parts: Mapping[str, Any]) -> Any:  # noqa: ANN401 - any plain data
    """Replace references in a schema by the parts themselves and remove titles, which are names of Python classes."""
    match part:
        case {"$ref": str(name)}:
            return _inlined(parts[name.removeprefix("#/$defs/")], parts)
        case dict():
            return {
                key: _inlined(each, parts)
                for key, each in part.items()
                if key != "$defs" and not (key == "title" and isinstance(each, str))
            }
        case list():
            return [_inlined(each, parts) for each in part]
    return part


def is_plain_value(value: Value | None) -> bool:
    """Return True for values that JSON gives back unchanged: finite floats and text."""
    return (type(value) is float and value - value == 0) or type(value) is str
