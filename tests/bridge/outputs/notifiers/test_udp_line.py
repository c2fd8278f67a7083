"""Tests of bridge.outputs.notifiers.udp_line: what a line looks like, and what is in none."""

from __future__ import annotations

import asyncio
import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.outputs.notifiers.envelope import Envelope
from bridge.outputs.notifiers.udp_line import MAX_LINE_BYTES, UdpLineNotifier, format_line
from bridge.session.session_events import SessionEvent
from rules.judge.events import CallEntered, Callout, FindingOpened, GateCued, PhaseEntered
from rules.packs.model import Level
from tests.bridge.outputs.notifiers.sample_messages import envelopes, finding, notice
from tests.contract.waiting import wait_until


def message_of(entry: SessionEvent) -> Envelope:
    """One entry as a message."""
    return envelopes(entry)[0]


@pytest.mark.parametrize(
    ("entry", "line"),
    [
        (notice(level=Level.WARNING), "warning 0:12:03 first officer: beacon is off, needs on"),
        (FindingOpened(5.0, finding()), "warning finding opened 0:00:05 captain: beacon is off, needs on"),
        (Callout(61.0, "start_n1", "N1"), "callout 0:01:01 N1"),
        (PhaseEntered(3600.0, "push_back", "stand"), "phase entered 1:00:00 push back stand"),
        (CallEntered(0.0, "push_approved", "ground"), "call entered 0:00:00 push approved ground"),
        (GateCued(1.0, "push_back", 3), "gate cued 0:00:01 push back 3"),
    ],
)
def test_lines(entry: SessionEvent, line: str) -> None:
    """Level, what it is where it is no notice, the simulator's time, the seat, the sentence."""
    assert format_line(message_of(entry)) == line


def test_what_ends_a_line_or_moves_a_cursor_becomes_a_space() -> None:
    """Line ends of every kind, control characters, marks that turn the writing round."""
    odd = "a\r\nb\tc\x00d\x1b[2Je\u2028f\u2029g\x85h\u202ei"
    assert format_line(message_of(notice(sentence=odd))).endswith(": a b c d [2Je f g h i")


def test_a_long_line_is_cut_between_characters() -> None:
    """It ends in a mark that says so, and has at most the bytes that it may."""
    line = format_line(message_of(notice(sentence="ü" * 400)), 101)
    assert line.endswith("ü…")
    assert 99 <= len(line.encode()) <= 101
    short = format_line(message_of(notice()), MAX_LINE_BYTES)
    assert "…" not in short


@given(st.text(max_size=400), st.integers(40, 300))
def test_whatever_is_said_is_one_short_line(sentence: str, longest: int) -> None:
    """Any text makes one printable line of at most so many bytes of UTF-8."""
    line = format_line(message_of(notice(sentence=sentence)), longest)
    assert len(line.encode()) <= longest
    assert len(line.splitlines()) == 1
    assert not [mark for mark in line if ord(mark) < 32 or ord(mark) == 127]


async def test_that_nobody_listens_is_counted_and_said() -> None:
    """Where the system tells so; the next line is sent all the same."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    notifier = UdpLineNotifier("127.0.0.1", port)
    running = asyncio.create_task(notifier.run())
    put = iter(envelopes(*(notice() for _ in range(1000))))

    def said() -> bool:
        if not len(notifier.outbox):
            notifier.enqueue(next(put))
        return notifier.refused_count > 0

    await wait_until(said)
    notifier.close()
    await running
    assert "nobody listened there" in notifier.status_text(0.0)
    assert notifier.counts.delivered == notifier.counts.accepted
