"""Entries and messages for the tests of the ways out.

Takes: nothing.  Gives: `notice`, `finding`, `stamped`, `STAMP`.
"""

from __future__ import annotations

from datetime import UTC, datetime

from bridge.outputs.notifiers.envelope import Envelope, EnvelopeBuilder
from bridge.session.session_events import SessionEvent
from rules.judge.events import Finding, Notice
from rules.packs.model import FindingKind, Level

UTC_THEN = datetime(2026, 11, 25, 4, 15, 0, 123456, tzinfo=UTC)


def notice(
    number: int = 1, level: Level = Level.CAUTION, sentence: str = "beacon is off, needs on"
) -> Notice:
    """A notice to the captain."""
    return Notice(723.4, level, "first_officer", "flow.before.beacon", "push", sentence, finding=number)


def finding(number: int = 1, closed_s: float | None = None) -> Finding:
    """A finding of the captain's."""
    return Finding(
        number, FindingKind.OMITTED, "flow.before.beacon", "Beacon", "push", "stand", "captain", Level.WARNING,
        5.0, "off", "on", "beacon is off, needs on", closed_s=closed_s,
    )  # fmt: skip


def envelope_builder() -> EnvelopeBuilder:
    """Stamps with a time that stands and a session of a known name."""
    return EnvelopeBuilder("cab_1", "s1", now_utc=lambda: UTC_THEN)


def envelopes(*entries: SessionEvent) -> list[Envelope]:
    """Entries as the messages of one session."""
    put = envelope_builder()
    return [put(entry) for entry in entries]
