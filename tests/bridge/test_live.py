"""Tests of bridge.live: a run on a link in memory, on a clock that is moved by hand."""

from __future__ import annotations

import asyncio

import pytest

from bridge.live import run_until
from rules.packs.model import Pack
from tests.bridge.making import Sender, paper, rig_of, text_of
from tests.contract.until import Clock, until


async def test_what_arrives_is_judged_until_the_work_is_done(pack: Pack, clock: Clock) -> None:
    """Datagrams reach the journal while the work goes on, and the run gives the work's result."""
    rig, link = rig_of(pack, clock)
    link.feed(Sender().datagram(0.0))

    async def work() -> str:
        await until(lambda: bool(rig.journal.phases))
        return "done"

    assert await run_until([rig.run], work(), None, paper()) == "done"
    assert rig.run.upkeep.opened.is_set()


async def test_an_error_of_the_work_ends_the_run(pack: Pack, clock: Clock) -> None:
    """What the work raises comes out, and nothing goes on behind it."""
    rig, _ = rig_of(pack, clock)

    async def work() -> None:
        raise ValueError("no sender")

    with pytest.raises(ExceptionGroup) as caught:
        await run_until([rig.run], work(), None, paper())
    assert caught.group_contains(ValueError, match="no sender")
    assert asyncio.all_tasks() == {asyncio.current_task()}


async def test_the_screen_is_drawn_and_stays_at_the_end(pack: Pack, clock: Clock) -> None:
    """With a screen the last state is left on it when the run ends."""
    rig, link = rig_of(pack, clock)
    link.feed(Sender().datagram(61.0))
    console = paper()

    async def work() -> None:
        await until(lambda: bool(rig.journal.phases))

    await run_until([rig.run], work(), rig.draw, console)
    assert "simulator time 0:01:01" in text_of(console)


def test_a_tick_lets_silence_be_noticed_and_then_beats(pack: Pack, clock: Clock) -> None:
    """At each tick the session hears the time first, then whoever asked for the beat."""
    rig, _ = rig_of(pack, clock)
    rig.session.take(Sender().datagram(0.0), clock())
    seen: list[object] = []
    rig.run.beats.append(lambda: seen.append(rig.session.core.items.states["flow.before.beacon"].truth))
    rig.run.tick()
    clock.now_s += 60
    rig.run.tick()
    assert seen == [True, None]


def test_what_the_link_dropped_is_counted(pack: Pack, clock: Clock) -> None:
    """Datagrams that the link threw away to catch up are told with the reception."""
    rig, link = rig_of(pack, clock)
    rig.run.upkeep.link = link
    link.counts.dropped = 45
    sender = Sender()
    link.feed(sender.datagram(0.0))
    rig.run.take(link._waiting[0])
    assert rig.reception().words == "receiving; 45 dropped to catch up"
