"""Sample data for the tests of the voice: a small pack, notices and findings."""

from __future__ import annotations

from rules.judge.events import Finding, FindingChanged, Notice
from rules.packs.model import FindingKind, Level, Pack
from tests.rules.judge.scripted_flight import PackBuilder, go, item, on, push, switch

BEACON = switch("beacon")


def pack() -> Pack:
    """A pack with the gates "Push back" and "Take-off"."""
    names = ["flow.before.beacon"]
    return PackBuilder([item("beacon", on(BEACON))], [push(names), go(names)]).pack()


def notice(
    sentence: str, finding: int, level: Level = Level.CAUTION, *, gate: str = "push", item_id: str = "item"
) -> Notice:
    """A notice about a finding; with an empty `item_id` it is a summary."""
    return Notice(10.0, level, "captain", item_id, gate, sentence, 0, finding)


def resolved(number: int, *, closed_s: float | None = 12.0) -> FindingChanged:
    """The event that a finding was closed, or only changed."""
    finding = Finding(
        number, FindingKind.OMITTED, "flow.before.x", "X", "push", "stand", "captain", Level.CAUTION, 10.0,
        "off", "on", "x is off", closed_s=closed_s,
    )  # fmt: skip
    return FindingChanged(12.0, finding)
