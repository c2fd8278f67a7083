"""The common format of a message in every notifier.

Takes: events.  Gives: `Envelope`, plain data for JSON and MessagePack.
"""

from __future__ import annotations

import math
import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, TypeAlias

import msgspec

from bridge.session.session_events import KINDS, SessionEvent

PlainData: TypeAlias = Any
"""None, bool, int, finite float, text, and lists and mappings with text keys of these."""

FORMAT_VERSION = 1
"""The version of the message format; raised when a receiver of the old format cannot read the new one."""

DEFAULT_DEVICE = "device"
_DEVICE_PATTERN = re.compile(r"[A-Za-z0-9_.-]{1,40}")


def new_session_id() -> str:
    """Make a random id for a session."""
    return secrets.token_hex(6)


@dataclass(frozen=True, slots=True)
class Envelope:
    """One message.

    Attributes:
        device: The id of the device: letters, digits and `_.-`.
        session: The id of the session on that device.
        sequence: Counts the events of a session from 1, with the same number in every notifier.
        utc: The time of publishing, ISO 8601 with milliseconds and `Z`.
        sim_s: The simulator's time.
        kind: The kind of message, such as `notice` or `finding/opened`: one of `bridge.session.session_events.KINDS`, `lost` or `state`.
        body: The fields of the event.
    """

    device: str
    session: str
    sequence: int
    utc: str
    sim_s: float
    kind: str
    body: Mapping[str, PlainData]

    @property
    def key(self) -> str:
        """The unique key of this message, by which a receiver can detect a repetition."""
        return f"{self.device}-{self.session}-{self.sequence}-{self.kind.replace('/', '-')}"

    @property
    def level(self) -> str:
        """The alert level of the message or of its finding; '' if there is none."""
        return str(_level_of(self.body))

    def as_dict(self) -> dict[str, PlainData]:
        """The message as plain data."""
        return {
            "format_version": FORMAT_VERSION, "device": self.device, "session": self.session, "sequence": self.sequence,
            "utc": self.utc, "sim_s": self.sim_s, "kind": self.kind, "body": dict(self.body),
        }  # fmt: skip


@dataclass(slots=True)
class EnvelopeBuilder:
    """Makes the numbered envelopes of one device's events.

    Attributes:
        device: The id of the device.
        session: The id of the present session.
        now_utc: The wall clock.
        sequence: The number of the latest envelope.
    """

    device: str = DEFAULT_DEVICE
    session: str = field(default_factory=new_session_id)
    now_utc: Callable[[], datetime] = field(default=lambda: datetime.now(UTC))
    sequence: int = 0

    def __post_init__(self) -> None:
        if not _DEVICE_PATTERN.fullmatch(self.device):
            raise ValueError(f"device '{self.device}', expected letters, digits and _.- (at most 40)")

    def __call__(self, event: SessionEvent) -> Envelope:
        """Make the next envelope.

        Args:
            event: any event of the judge or of the session.
        """
        body = to_plain_data(event)
        sim_s = float(body.get("sim_s") or 0.0)
        self.sequence += 1
        now = self.now_utc().astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        return Envelope(self.device, self.session, self.sequence, now, sim_s, KINDS[type(event)], body)

    def begin_session(self) -> None:
        """Begin another session: a new id, and numbers from 1."""
        self.session, self.sequence = new_session_id(), 0


def kind_matches(kind: str, words: tuple[str, ...]) -> bool:
    """True if a kind is one of these words or begins with one of them: `finding` matches `finding/opened`."""
    return any(kind == word or kind.startswith(f"{word}/") for word in words)


def to_plain_data(event: object) -> dict[str, PlainData]:
    """Convert the fields of an event to plain data for every wire format.

    Enumerations become words, tuples lists, NaN and infinity None, and an unpaired surrogate `?`.
    """
    body: dict[str, PlainData] = _wire_safe(msgspec.to_builtins(event, str_keys=True, enc_hook=str))
    return body


def _wire_safe(value: PlainData) -> PlainData:
    match value:
        case str():
            return value if value.isascii() else value.encode(errors="replace").decode()
        case float():
            return value if math.isfinite(value) else None
        case dict():
            return {key: _wire_safe(part) for key, part in value.items()}
        case list() | tuple():
            return [_wire_safe(part) for part in value]
    return value


def _level_of(body: Mapping[str, PlainData]) -> PlainData:
    finding = body.get("finding")
    return body.get("level") or (finding.get("level") if isinstance(finding, dict) else "") or ""
