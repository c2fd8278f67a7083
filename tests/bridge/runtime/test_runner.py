"""Tests of bridge.runtime.runner: a run on a link in memory and a manual clock."""

from __future__ import annotations

import asyncio

import pytest

from bridge.runtime.device_events import RunnerTicked
from bridge.runtime.runner import run_until
from rules.judge.events import Verdict
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock, wait_until


async def test_datagrams_are_judged_until_the_work_is_done(pack: Pack, clock: ManualClock) -> None:
    """Datagrams reach the journal during the work, and the run returns the work's result."""
    device, link = device_on_memory_link(pack, clock)
    link.feed(FrameSender().datagram(0.0))

    async def work() -> str:
        await wait_until(lambda: bool(device.journal.phases))
        return "done"

    assert await run_until([device.runner], work()) == "done"
    assert device.source.opened.is_set()


async def test_an_error_of_the_work_ends_the_run(pack: Pack, clock: ManualClock) -> None:
    """An exception of the work is raised, and no task is left."""
    device, _ = device_on_memory_link(pack, clock)

    async def work() -> None:
        raise ValueError("no sender")

    with pytest.raises(ExceptionGroup) as caught:
        await run_until([device.runner], work())
    assert caught.group_contains(ValueError, match="no sender")
    assert asyncio.all_tasks() == {asyncio.current_task()}


def test_a_tick_updates_the_session_before_it_is_published(pack: Pack, clock: ManualClock) -> None:
    """At each tick the session is updated before the subscribers are called."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0), clock())
    seen: list[object] = []
    device.bus.subscribe(
        lambda _: seen.append(device.session.snapshot().items["flow.before.beacon"].verdict), RunnerTicked
    )
    device.runner.tick()
    clock.now_s += 60
    device.runner.tick()
    assert seen == [Verdict.MET, Verdict.UNKNOWN]


def test_datagrams_that_the_link_dropped_are_counted(pack: Pack, clock: ManualClock) -> None:
    """The report of the link has the number of datagrams that it dropped."""
    device, link = device_on_memory_link(pack, clock)
    device.source.link = link
    link.counts.dropped = 45
    feed(device, FrameSender().datagram(0.0), clock())
    assert device.link_report().text == "receiving; 45 dropped here"


async def test_frames_go_to_the_session_that_is_present_when_they_arrive(
    pack: Pack, clock: ManualClock
) -> None:
    """After a new session began, the next frame is judged in it and carries every signal."""
    device, link = device_on_memory_link(pack, clock)
    sender = FrameSender()

    async def work() -> None:
        link.feed(sender.datagram(0.0))
        await wait_until(lambda: device.session.snapshot().sim_s == 0.0)
        device.start_session("second")
        link.feed(sender.datagram(1.0))
        await wait_until(lambda: device.session.snapshot().sim_s == 1.0)

    await run_until([device.runner], work())
    assert device.session.name == "second"
    assert device.session.snapshot().items["flow.before.beacon"].verdict is Verdict.MET
