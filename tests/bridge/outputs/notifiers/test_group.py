"""Tests of bridge.outputs.notifiers.group: numbers, sessions, devices, and the end of each notifier."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import cast

import pytest

from bridge.outputs.notifiers.group import NotifierGroup
from bridge.outputs.notifiers.memory import MemoryNotifier
from bridge.session.session_events import SessionStarted
from rules.judge.events import JudgeEvent
from tests.bridge.outputs.notifiers.sample_messages import notice
from tests.contract.waiting import wait_until


async def test_every_notifier_gets_the_same_message() -> None:
    """An event has the same number in every notifier."""
    one, two = MemoryNotifier("one"), MemoryNotifier("two")
    group = NotifierGroup([one, two])
    feed = group.feed("cab_1")
    async with group:
        feed(notice())
        feed(notice())
        await wait_until(lambda: len(one.received) == len(two.received) == 2)
    assert one.received == two.received
    assert [message.sequence for message in one.received] == [1, 2]


async def test_sessions_and_devices_have_their_own_numbers() -> None:
    """The start of a session is its first message; each device counts its own messages."""
    memory = MemoryNotifier()
    group = NotifierGroup([memory])
    one, two = group.feed("cab_1"), group.feed("cab_2")
    async with group:
        one(notice())
        two(notice())
        one(SessionStarted(0.0, 0.0, "Session 2"))
        one(notice())
        await wait_until(lambda: len(memory.received) == 4)
    assert [(message.device, message.sequence, message.kind) for message in memory.received] == [
        ("cab_1", 1, "notice"), ("cab_2", 1, "notice"), ("cab_1", 1, "session/started"), ("cab_1", 2, "notice"),
    ]  # fmt: skip
    assert len({message.session for message in memory.received}) == 3


async def test_an_unknown_object_is_counted_as_a_failure() -> None:
    """The feed raises no error and uses no number."""
    memory = MemoryNotifier()
    group = NotifierGroup([memory])
    feed = group.feed()
    async with group:
        feed(cast(JudgeEvent, "not an event"))
        feed(notice())
        await wait_until(lambda: len(memory.received) == 1)
    assert (memory.received[0].sequence, group.failures) == (1, 1)


async def test_a_notifier_that_ignores_cancellation_is_abandoned(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Closing the group ends after its timeout."""
    monkeypatch.setattr("bridge.outputs.notifiers.group.CANCEL_TIMEOUT_S", 0.0)
    stubborn = MemoryNotifier("stubborn")
    may_end = asyncio.Event()

    async def run() -> None:
        while not may_end.is_set():
            with suppress(asyncio.CancelledError):
                await may_end.wait()

    monkeypatch.setattr(stubborn, "run", run)
    group = NotifierGroup([stubborn])
    async with group:
        await asyncio.sleep(0)
        (left,) = group._tasks
        await group.close(0.0)
    assert not left.done()
    may_end.set()
    await left


async def test_a_group_without_notifiers() -> None:
    """Events are accepted, and there are no status texts."""
    group = NotifierGroup([])
    async with group:
        group.feed()(notice())
    assert group.status_texts(0.0) == []
