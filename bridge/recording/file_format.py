"""The form of a recording: which channels there are, and what a message on each holds.

    /head                 the session: pack, papers, who and when; first in every part
    /keyframe             all that is known at the beginning of a later part
    /bundle               the names that a link carries, by the number that frames use
    /frame /tick /request what went in, in the order in which it was judged
    /event/KIND           what came out: one channel for each kind of entry and note
    /lost                 frames that could not be kept

Each message is JSON, with its JSON schema in the file.  `log_time` is the wall's clock when the input was judged, in
nanoseconds since 1970 (it is set back where somebody sets it back); `publish_time` is the simulator's clock in
nanoseconds; `sequence` counts the session's messages from 1 and is their true order.

Takes: entries, notes, requests.  Gives: the types of the other messages, and `CHANNELS` with the schema of each.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from bridge.runtime.control import Request, Verb
from bridge.session import session_events
from rules.signals.model import Quality, Value

FORMAT_VERSION = 1
"""Which form of recording this is; raised when a reader of the old one could not read the new one."""

PROFILE = "holdshort"
EVENT_PREFIX = "/event/"
HEAD, KEYFRAME, BUNDLE, FRAME, TICK, REQUEST, LOST = (
    "/head", "/keyframe", "/bundle", "/frame", "/tick", "/request", "/lost",
)  # fmt: skip

FullSample = tuple[str, float | int | bool | str | None, Quality, float]
"""A sample that has no plain form: name, value, quality, time of the simulator."""


class RecordedPack(msgspec.Struct, frozen=True):
    """The pack that judged; `digest` is a hash of all that the loaded pack says, '' where nobody took it."""

    id: str = msgspec.field(name="id")
    title: str = msgspec.field(name="title")
    version: str = msgspec.field(name="version")
    digest: str = msgspec.field(default="", name="digest")


class RecordedTrip(msgspec.Struct, frozen=True):
    """The trip sheet with which the session began, in the signal book's units."""

    title: str = msgspec.field(name="title")
    values: dict[str, float | str] = msgspec.field(name="values")
    inoperative: tuple[str, ...] = msgspec.field(default=(), name="inoperative")
    note: str = msgspec.field(default="", name="note")


class RecordingHead(msgspec.Struct, frozen=True):
    """What a session was when it began.

    `part` counts the files of one session from 1; `first` is the sequence of the part's first message after its head,
    picture and bundles, which bear that number too.
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
    """The names that frames of this number carry, and the link that they came by."""

    number: int = msgspec.field(name="number")
    link: str = msgspec.field(name="link")
    names: tuple[str, ...] = msgspec.field(name="names")


class FrameMessage(msgspec.Struct, frozen=True, omit_defaults=True):
    """One frame: the clocks, and what differs from the frame before.

    `values` are fresh, or null where the sender said that there is none (invalid).  Where a sample has another time
    than the frame, another quality, or a value that JSON has no word for, all of the frame's stand in `samples`
    instead, in their order.
    """

    sim_s: float = msgspec.field(name="sim_s")
    recv_s: float = msgspec.field(name="recv_s")
    epoch: int = msgspec.field(name="epoch")
    bundle: int = msgspec.field(name="bundle")
    values: dict[str, float | str | None] = msgspec.field(default_factory=dict, name="values")
    calls: tuple[str, ...] = msgspec.field(default=(), name="calls")
    samples: tuple[FullSample, ...] = msgspec.field(default=(), name="samples")


class TickMessage(msgspec.Struct, frozen=True):
    """Time passed without news, and by `recv_s` something was too old."""

    recv_s: float = msgspec.field(name="recv_s")


class RequestMessage(msgspec.Struct, frozen=True, omit_defaults=True):
    """What somebody asked, and when by the wall's clock (seconds since 1970)."""

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
            msgspec.ValidationError: There is no such verb any more.
        """
        verb = msgspec.convert(self.verb, Verb)
        return Request(verb, self.name, self.by, self.reason, self.device)


class RecordingKeyframe(msgspec.Struct, frozen=True):
    """How all stands: what frames have said, the calls that stand, and requests that still matter.

    A frame that follows builds on it.  `requests` are those of papers, excuses, confirmations and seats.
    """

    sim_s: float = msgspec.field(name="sim_s")
    recv_s: float = msgspec.field(name="recv_s")
    epoch: int = msgspec.field(name="epoch")
    values: dict[str, float | str | None] = msgspec.field(name="values")
    calls: tuple[str, ...] = msgspec.field(default=(), name="calls")
    requests: tuple[RequestMessage, ...] = msgspec.field(default=(), name="requests")


class FramesLost(msgspec.Struct, frozen=True):
    """So many frames and ticks were not kept, because the disk was too slow; a picture follows."""

    frames: int = msgspec.field(name="frames")
    ticks: int = msgspec.field(name="ticks")
    since_utc: float = msgspec.field(name="since_utc")
    sim_s: float = msgspec.field(name="sim_s")


EVENT_TYPES: Mapping[str, type[Any]] = {
    f"{EVENT_PREFIX}{name}": kind for kind, name in session_events.KINDS.items()
}
"""Channel to class, of every kind of entry and note."""
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

_ENCODER = msgspec.json.Encoder(enc_hook=str)


def encode_message(message: object) -> bytes:
    """One message as JSON; half a character becomes `?`."""
    try:
        return _ENCODER.encode(message)
    except UnicodeEncodeError:
        return _ENCODER.encode(_without_surrogates(msgspec.to_builtins(message, str_keys=True, enc_hook=str)))


def _without_surrogates(value: Any) -> Any:  # noqa: ANN401 - any plain data
    """Plain data without halves of characters, which no file can hold."""
    match value:
        case str():
            return value.encode(errors="replace").decode()
        case dict():
            return {_without_surrogates(key): _without_surrogates(part) for key, part in value.items()}
        case list() | tuple():
            return [_without_surrogates(part) for part in value]
    return value


def json_schema_of(kind: type[Any]) -> bytes:
    """The JSON schema of a channel's messages, an object at its root, as readers of recordings expect it."""
    schema = msgspec.json.schema(kind, schema_hook=lambda _: {"type": "string"})
    return msgspec.json.encode(_inlined(schema, schema.get("$defs", {})))


def _inlined(part: Any, parts: Mapping[str, Any]) -> Any:  # noqa: ANN401 - any plain data
    """A schema with every part in its place and no title: the names of both are those of Python's classes."""
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
    """Whether JSON gives this value back as it was: a finite number with a point, or text."""
    return (type(value) is float and value - value == 0) or type(value) is str
