"""Tests of bridge.reception: waiting, receiving, silent, unreadable and broken are told apart, once each."""

from __future__ import annotations

from adapters.links.memory import MemoryLink
from bridge.reception import Changes, Reception, Standing, reception
from bridge.rig import Rig
from rules.packs.model import Pack
from tests.bridge.making import Sender, rig_of
from tests.contract.until import Clock


async def opened(rig: Rig, link: MemoryLink) -> None:
    """Let the supervisor believe that the link is open."""
    await link.__aenter__()
    rig.run.upkeep.link = link


def take(rig: Rig, link: MemoryLink, data: bytes) -> None:
    """Let a datagram arrive now, at link and session."""
    link.feed(data)
    rig.session.take(data, rig.run.clock())


async def test_a_link_goes_from_waiting_over_receiving_to_silent_and_back(pack: Pack, clock: Clock) -> None:
    """Each state is told in words that say what is so, and for how long."""
    rig, link = rig_of(pack, clock)
    sender = Sender()
    assert rig.reception().standing is Standing.OPENING
    await opened(rig, link)
    assert rig.reception() == Reception("memory", Standing.WAITING, "open, nothing has arrived yet")
    take(rig, link, sender.datagram(0.0))
    assert rig.reception() == Reception("memory", Standing.RECEIVING, "receiving")
    clock.now_s += 14
    silent = rig.reception()
    assert (silent.standing, silent.words, silent.healthy) == (Standing.SILENT, "no data for 14 s", False)
    take(rig, link, sender.datagram(1.0))
    assert rig.reception().standing is Standing.RECEIVING
    clock.now_s += 3
    take(rig, link, b"\xff\x00")
    unreadable = rig.reception()
    assert unreadable.standing is Standing.UNREADABLE
    assert unreadable.words.startswith("datagrams arrive but none can be read")


async def test_a_broken_link_says_what_failed_and_when_it_is_tried(pack: Pack, clock: Clock) -> None:
    """What the supervisor could not open is told with the time to the next attempt, whatever was received before."""
    rig, link = rig_of(pack, clock)
    await opened(rig, link)
    take(rig, link, Sender().datagram(0.0))
    upkeep = rig.run.upkeep
    upkeep.failure, upkeep.retry_at_s, upkeep.failures = "port in use", clock() + 4, 3
    broken = reception(upkeep, rig.session.receiver.health, "udp://127.0.0.1:1", clock())
    assert broken == Reception("memory", Standing.BROKEN, "port in use; trying again in 4 s", 3)
    assert not broken.healthy


def test_each_change_is_said_once() -> None:
    """Looking often says a change once; every new attempt at a broken link is one."""
    said: list[str] = []
    changes = Changes(said.append)
    waiting = Reception("udp", Standing.WAITING, "open, nothing has arrived yet")
    receiving = Reception("udp", Standing.RECEIVING, "receiving; 3 lost")
    broken = [Reception("udp", Standing.BROKEN, f"gone; trying again in {n} s", n) for n in (1, 2)]
    seen = [
        Reception("udp", Standing.OPENING, "opening"), waiting, waiting, receiving, receiving,
        Reception("udp", Standing.SILENT, "no data for 2 s"), Reception("udp", Standing.SILENT, "no data for 3 s"),
        receiving, broken[0], broken[0], broken[1], receiving,
    ]  # fmt: skip
    for now in seen:
        changes.look(now)
    assert said == [
        "udp: open, nothing has arrived yet",
        "udp: receiving; 3 lost",
        "udp: no data for 2 s; what it showed is unknown until it sends again",
        "udp: receiving again; 3 lost",
        "udp: gone; trying again in 1 s",
        "udp: gone; trying again in 2 s",
        "udp: receiving again; 3 lost",
    ]
