"""Tests of bridge.outputs.notifiers.group: numbers, sessions, devices, and an end that nobody can hold up."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import cast

import pytest

from bridge.outputs.notifiers.group import NotifierGroup
from bridge.outputs.notifiers.memory import MemoryNotifier
from bridge.session.session_events import SessionChanged, SessionChangeKind
from rules.judge.events import JudgeEvent
from tests.bridge.outputs.notifiers.sample_messages import notice
from tests.contract.waiting import wait_until


async def test_every_way_out_gets_the_same_number() -> None:
    """An entry is the same message everywhere."""
    one, two = MemoryNotifier("one"), MemoryNotifier("two")
    fan = NotifierGroup([one, two])
    ear = fan.feed("cab_1")
    async with fan:
        ear(notice())
        ear(notice())
        await wait_until(lambda: len(one.received) == len(two.received) == 2)
    assert one.received == two.received
    assert [message.sequence for message in one.received] == [1, 2]


async def test_sessions_and_devices_are_told_apart() -> None:
    """The note that a session begins is the first message of that session; devices count for themselves."""
    kept = MemoryNotifier()
    fan = NotifierGroup([kept])
    one, two = fan.feed("cab_1"), fan.feed("cab_2")
    async with fan:
        one(notice())
        two(notice())
        one(SessionChanged(0.0, 0.0, SessionChangeKind.STARTED, "Session 2"))
        one(notice())
        await wait_until(lambda: len(kept.received) == 4)
    assert [(message.device, message.sequence, message.kind) for message in kept.received] == [
        ("cab_1", 1, "notice"), ("cab_2", 1, "notice"), ("cab_1", 1, "session/noted"), ("cab_1", 2, "notice"),
    ]  # fmt: skip
    assert len({message.session for message in kept.received}) == 3


async def test_something_that_is_no_entry_is_counted_and_harms_nobody() -> None:
    """It has no fields: nothing is raised, no number is spent."""
    kept = MemoryNotifier()
    fan = NotifierGroup([kept])
    ear = fan.feed()
    async with fan:
        ear(cast(JudgeEvent, "not an entry"))
        ear(notice())
        await wait_until(lambda: len(kept.received) == 1)
    assert (kept.received[0].sequence, fan.failures) == (1, 1)


async def test_one_that_does_not_let_itself_be_cancelled_is_left_behind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The end comes all the same."""
    monkeypatch.setattr("bridge.outputs.notifiers.group.CANCEL_TIMEOUT_S", 0.0)
    stubborn = MemoryNotifier("stubborn")
    may_end = asyncio.Event()

    async def run() -> None:
        while not may_end.is_set():
            with suppress(asyncio.CancelledError):
                await may_end.wait()

    monkeypatch.setattr(stubborn, "run", run)
    fan = NotifierGroup([stubborn])
    async with fan:
        await asyncio.sleep(0)
        (left,) = fan._tasks
        await fan.close(0.0)
    assert not left.done()
    may_end.set()
    await left


async def test_a_fan_without_ways_out_is_no_trouble() -> None:
    """Nobody is told, nothing waits."""
    fan = NotifierGroup([])
    async with fan:
        fan.feed()(notice())
    assert fan.status_texts(0.0) == []
