"""The one form of a message, whatever way it goes out.

Takes: entries.  Gives: `Envelope`, plain data that JSON and MessagePack can carry.
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
"""None, bool, int, finite float, text, and lists and mappings (of text) of these."""

FORMAT_VERSION = 1
"""Which form of message this is; raised when a receiver of the old one could not read the new one."""

DEFAULT_DEVICE = "device"
_DEVICE_PATTERN = re.compile(r"[A-Za-z0-9_.-]{1,40}")


def new_session_id() -> str:
    """A word that no session had before."""
    return secrets.token_hex(6)


@dataclass(frozen=True, slots=True)
class Envelope:
    """One message.

    Attributes:
        device: Which device was watched; letters, digits and `_.-`.
        session: Which session of it: another word for each.
        sequence: Counts the entries of a session from 1, the same number on every way out.
        utc: When it was said, ISO 8601 with milliseconds and `Z`.
        sim_s: The simulator's time.
        kind: What it is, such as `notice` or `finding/opened`: one of `bridge.session.session_events.KINDS`, `lost` or `state`.
        body: The entry's own fields.
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
        """Names this message among all, so that who gets it twice can tell."""
        return f"{self.device}-{self.session}-{self.sequence}-{self.kind.replace('/', '-')}"

    @property
    def level(self) -> str:
        """Its alert level, its own or its finding's; '' for none."""
        return str(_level_of(self.body))

    def as_dict(self) -> dict[str, PlainData]:
        """The message as plain data."""
        return {
            "form": FORMAT_VERSION, "device": self.device, "session": self.session, "sequence": self.sequence,
            "utc": self.utc, "sim_s": self.sim_s, "kind": self.kind, "body": dict(self.body),
        }  # fmt: skip


@dataclass(slots=True)
class EnvelopeBuilder:
    """Puts entries into envelopes, numbered from 1."""

    device: str = DEFAULT_DEVICE
    session: str = field(default_factory=new_session_id)
    now_utc: Callable[[], datetime] = field(default=lambda: datetime.now(UTC))
    sequence: int = 0

    def __post_init__(self) -> None:
        if not _DEVICE_PATTERN.fullmatch(self.device):
            raise ValueError(f"device '{self.device}', expected letters, digits and _.- (at most 40)")

    def __call__(self, entry: SessionEvent) -> Envelope:
        """The next message.

        Args:
            entry: any entry of the core, or a note.
        """
        body = to_plain_data(entry)
        sim_s = float(body.get("sim_s") or 0.0)
        self.sequence += 1
        now = self.now_utc().astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        return Envelope(self.device, self.session, self.sequence, now, sim_s, KINDS[type(entry)], body)

    def begin_session(self) -> None:
        """Another session begins: another word, and numbers from 1."""
        self.session, self.sequence = new_session_id(), 0


def kind_matches(kind: str, words: tuple[str, ...]) -> bool:
    """Whether a kind is one of these words, or begins with one of them: `finding` chooses `finding/opened`."""
    return any(kind == word or kind.startswith(f"{word}/") for word in words)


def to_plain_data(entry: object) -> dict[str, PlainData]:
    """An entry's fields as plain data that every wire can carry.

    Words for enumerations, lists for tuples, None for NaN and infinity, `?` for half a character.
    """
    made: dict[str, PlainData] = _wire_safe(msgspec.to_builtins(entry, str_keys=True, enc_hook=str))
    return made


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
