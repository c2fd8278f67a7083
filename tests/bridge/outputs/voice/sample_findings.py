"""Sample data for the tests of the voice: a small pack, notices and findings."""

from __future__ import annotations

from rules.judge.events import Finding, FindingChanged, LeadIn, Notice
from rules.judge.wording import notice_text
from rules.packs.model import FindingKind, Level, Pack
from tests.rules.judge.scripted_flight import PackBuilder, go, item, on, push, switch

BEACON = switch("beacon")


def pack() -> Pack:
    """A pack with the gates "Push back" and "Take-off"."""
    names = ["flow.before.beacon"]
    return PackBuilder([item("beacon", on(BEACON))], [push(names), go(names)]).pack()


def notice(
    reason: str, finding: int, level: Level = Level.CAUTION, *, lead_in: LeadIn = LeadIn.BEFORE_GATE
) -> Notice:
    """A notice about a finding; a watch has no gate."""
    gate = "" if lead_in is LeadIn.NONE else "push"
    text = notice_text(lead_in, (reason,), "Push back")
    return Notice(10.0, level, "captain", "item", gate, text, 0, finding, lead_in, (reason,))


def summary(*reasons: str) -> Notice:
    """The summary after a quiet period."""
    text = notice_text(LeadIn.SUMMARY, reasons)
    return Notice(10.0, Level.CAUTION, "captain", "", "", text, lead_in=LeadIn.SUMMARY, reasons=reasons)


def resolved(number: int, *, closed_s: float | None = 12.0) -> FindingChanged:
    """The event that a finding was closed, or only changed."""
    finding = Finding(
        number, FindingKind.OMITTED, "flow.before.x", "X", "push", "stand", "captain", Level.CAUTION, 10.0,
        "off", "on", "x is off", closed_s=closed_s,
    )  # fmt: skip
    return FindingChanged(12.0, finding)
