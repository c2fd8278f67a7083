"""Tests of bridge.outputs.notifiers.udp_line: the format of a line, its length, and a closed port."""

from __future__ import annotations

import asyncio
import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.udp_line import MAX_LINE_BYTES, UdpLineNotifier, format_line
from bridge.session.session_events import CourseChanged, SeatAssigned, SessionEvent, StoreUnreachable
from rules.judge.events import (
    CallEntered,
    Callout,
    FindingOpened,
    GateCued,
    ItemStatus,
    PhaseEntered,
    Verdict,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import Level
from tests.bridge.outputs.notifiers.sample_messages import envelopes, finding, notice
from tests.contract.waiting import wait_until


def message_of(event: SessionEvent) -> Envelope:
    """An event as a message."""
    return envelopes(event)[0]


@pytest.mark.parametrize(
    ("event", "line"),
    [
        (
            notice(level=Level.WARNING),
            "warning 0:12:03 first officer: Before push back: beacon is off.",
        ),
        (FindingOpened(5.0, finding()), "warning finding opened 0:00:05 captain: beacon is off"),
        (Callout(61.0, "start_n1", "N1"), "callout 0:01:01 N1"),
        (PhaseEntered(3600.0, "push_back", "stand"), "phase entered 1:00:00 push back stand"),
        (CallEntered(0.0, "push_approved", "ground"), "call entered 0:00:00 push approved ground"),
        (
            CallEntered(0.0, "push_approved", "ground", earlier=True),
            "call entered 0:00:00 push approved ground earlier",
        ),
        (
            GateCued(1.0, "push_back", 3, 79, 18, 1),
            "gate cued 0:00:01 push back: 3 open, 18 of 79 judged, 1 other finding open",
        ),
        (SeatAssigned(1.0, 2.0, "captain", "Crew_7"), "session seat assigned 0:00:01 captain: Crew_7"),
        (SeatAssigned(1.0, 2.0, "captain", None), "session seat assigned 0:00:01 captain: nobody"),
        (CourseChanged(1.0, 2.0, "none"), "session course changed 0:00:01 none"),
        (StoreUnreachable(1.0, 2.0, "no room"), "store unreachable 0:00:01 no room"),
        (
            VerdictChanged(1.0, "x", Verdict.MET, ItemStatus.WAIVED, "waived", "", "", "lamp failed", "atc"),
            "verdict changed 0:00:01 waived: lamp failed",
        ),
        (
            WaiverBegun(1.0, "flow.a.b", "lamp failed", "atc"),
            "waiver begun 0:00:01 flow.a.b: lamp failed, by atc",
        ),
        (
            WaiverUndone(9.0, "flow.a.b", "", "first_officer", 1.0),
            "waiver undone 0:00:09 flow.a.b: by first officer",
        ),
        (WaiverUndone(9.0, "flow.a.b", "mended", "", 1.0), "waiver undone 0:00:09 flow.a.b: mended"),
    ],
)
def test_lines(event: SessionEvent, line: str) -> None:
    """A line has the level, the kind unless it is a notice, the simulator's time, the seat and the sentence."""
    assert format_line(message_of(event)) == line


def test_control_characters_become_spaces() -> None:
    """Line ends of every kind, control characters and direction marks become spaces."""
    odd = "a\r\nb\tc\x00d\x1b[2Je\u2028f\u2029g\x85h\u202ei"
    assert format_line(message_of(notice(sentence=odd))).endswith(": a b c d [2Je f g h i")


def test_a_long_line_is_cut_between_characters() -> None:
    """It ends in an ellipsis and has at most the given bytes."""
    line = format_line(message_of(notice(sentence="ü" * 400)), 101)
    assert line.endswith("ü…")
    assert 99 <= len(line.encode()) <= 101
    short = format_line(message_of(notice()), MAX_LINE_BYTES)
    assert "…" not in short


@given(st.text(max_size=400), st.integers(40, 300))
def test_any_text_is_one_short_line(sentence: str, longest: int) -> None:
    """Any text gives one printable line of at most the given bytes of UTF-8."""
    line = format_line(message_of(notice(sentence=sentence)), longest)
    assert len(line.encode()) <= longest
    assert len(line.splitlines()) == 1
    assert not [char for char in line if ord(char) < 32 or ord(char) == 127]


async def test_a_closed_port_is_counted() -> None:
    """If the system reports a closed port, it is counted, and the next line is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    notifier = UdpLineNotifier("127.0.0.1", port)
    running = asyncio.create_task(notifier.run())
    messages = iter(envelopes(*(notice() for _ in range(1000))))

    def reported() -> bool:
        if not len(notifier.outbox):
            notifier.enqueue(next(messages))
        return notifier.refused_count > 0

    await wait_until(reported)
    notifier.close()
    await running
    assert "port closed" in notifier.status_text(0.0)
    assert notifier.counts.delivered == notifier.counts.accepted
