"""Tests of bridge.terminal.link_changes: one line for each change of a link."""

from __future__ import annotations

from adapters.link_report import LinkReport, LinkState
from bridge.terminal.link_changes import LinkChangeLog


def test_each_change_is_printed_once() -> None:
    """Several looks at one state print one line; each new attempt at a broken link prints one more."""
    lines: list[str] = []
    changes = LinkChangeLog(lines.append)
    waiting = LinkReport("udp", LinkState.WAITING, "open, nothing has arrived yet")
    receiving = LinkReport("udp", LinkState.RECEIVING, "receiving; 3 lost")
    broken_reports = [LinkReport("udp", LinkState.BROKEN, f"gone; trying again in {n} s", n) for n in (1, 2)]
    reports = [
        LinkReport("udp", LinkState.OPENING, "opening"), waiting, waiting, receiving, receiving,
        LinkReport("udp", LinkState.SILENT, "no data for 2 s"), LinkReport("udp", LinkState.SILENT, "no data for 3 s"),
        LinkReport("udp", LinkState.BEHIND, "this computer is 2 s behind: 40 packets to judge"),
        receiving, LinkReport("udp", LinkState.SILENT, "no data for 2 s"), receiving, broken_reports[0], broken_reports[0], broken_reports[1], receiving,
    ]  # fmt: skip
    for report in reports:
        changes.update(report)
    assert lines == [
        "udp: open, nothing has arrived yet",
        "udp: receiving; 3 lost",
        "udp: no data for 2 s; its values are unknown until data arrive again",
        "udp: this computer is 2 s behind: 40 packets to judge",
        "udp: caught up: receiving; 3 lost",
        "udp: no data for 2 s; its values are unknown until data arrive again",
        "udp: data arrive again: receiving; 3 lost",
        "udp: gone; trying again in 1 s",
        "udp: gone; trying again in 2 s",
        "udp: data arrive again: receiving; 3 lost",
    ]
