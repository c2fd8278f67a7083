"""Sample events and messages for the tests of notifiers.

Takes: nothing.  Gives: `notice`, `finding`, `envelopes`, `envelope_builder`.
"""

from __future__ import annotations

from datetime import UTC, datetime

from bridge.outputs.notifiers.envelope import Envelope, EnvelopeBuilder
from bridge.session.session_events import SessionEvent
from rules.judge.events import Finding, LeadIn, Notice
from rules.judge.wording import notice_text
from rules.packs.model import FindingKind, Level

UTC_THEN = datetime(2026, 11, 25, 4, 15, 0, 123456, tzinfo=UTC)


def notice(number: int = 1, level: Level = Level.CAUTION, sentence: str = "") -> Notice:
    """A notice to the first officer; `sentence` replaces the text that is made of its parts."""
    item, lead_in, reason = "flow.before_start.beacon", LeadIn.BEFORE_GATE, "beacon is off"
    text = sentence or notice_text(lead_in, (reason,), "Push back")
    return Notice(723.4, level, "first_officer", item, "push", text, 0, number, lead_in, (reason,))


def finding(number: int = 1, closed_s: float | None = None) -> Finding:
    """A finding of the captain."""
    return Finding(
        number, FindingKind.OMITTED, "flow.before_start.beacon", "Beacon", "push", "stand", "captain", Level.WARNING,
        5.0, "off", "on", "beacon is off", closed_s=closed_s,
    )  # fmt: skip


def envelope_builder() -> EnvelopeBuilder:
    """A builder with a fixed time and a known session id."""
    return EnvelopeBuilder("cab_1", "s1", now_utc=lambda: UTC_THEN)


def envelopes(*events: SessionEvent) -> list[Envelope]:
    """Events as the messages of one session."""
    build = envelope_builder()
    return [build(event) for event in events]
