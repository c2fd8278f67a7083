"""Tests of bridge.runtime.link_state: each state of a link, and one line at each change."""

from __future__ import annotations

from adapters.links.memory import MemoryLink
from bridge.runtime.device import Device
from bridge.runtime.link_state import LinkChangeLog, LinkReport, LinkState, link_report
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link
from tests.contract.waiting import ManualClock


async def opened(device: Device, link: MemoryLink) -> None:
    """Let the supervisor believe that the link is open."""
    await link.__aenter__()
    device.runner.supervised_link.link = link


def receive(device: Device, link: MemoryLink, data: bytes) -> None:
    """Let a datagram arrive now, at link and session."""
    link.feed(data)
    device.session.receive(data, device.runner.clock())


async def test_a_link_goes_from_waiting_over_receiving_to_silent_and_back(
    pack: Pack, clock: ManualClock
) -> None:
    """Each state has a text with its duration."""
    device, link = device_on_memory_link(pack, clock)
    sender = FrameSender()
    assert device.link_report().state is LinkState.OPENING
    await opened(device, link)
    assert device.link_report() == LinkReport("memory", LinkState.WAITING, "open, nothing has arrived yet")
    receive(device, link, sender.datagram(0.0))
    assert device.link_report() == LinkReport("memory", LinkState.RECEIVING, "receiving")
    clock.now_s += 14
    silent = device.link_report()
    assert (silent.state, silent.text, silent.healthy) == (LinkState.SILENT, "no data for 14 s", False)
    receive(device, link, sender.datagram(1.0))
    assert device.link_report().state is LinkState.RECEIVING
    clock.now_s += 3
    receive(device, link, b"\xff\x00")
    unreadable = device.link_report()
    assert unreadable.state is LinkState.UNREADABLE
    assert unreadable.text.startswith("packets received, none can be decoded")


async def test_a_broken_link_says_what_failed_and_when_it_is_tried(pack: Pack, clock: ManualClock) -> None:
    """What the supervisor could not open is told with the time to the next attempt, whatever was received before."""
    device, link = device_on_memory_link(pack, clock)
    await opened(device, link)
    receive(device, link, FrameSender().datagram(0.0))
    upkeep = device.runner.supervised_link
    upkeep.failure, upkeep.retry_at_s, upkeep.failures = "port in use", clock() + 4, 3
    broken = link_report(upkeep, device.session.receiver.health, "udp://127.0.0.1:1", clock())
    assert broken == LinkReport("memory", LinkState.BROKEN, "port in use; trying again in 4 s", 3)
    assert not broken.healthy


def test_each_change_is_said_once() -> None:
    """Looking often says a change once; every new attempt at a broken link is one."""
    said: list[str] = []
    changes = LinkChangeLog(said.append)
    waiting = LinkReport("udp", LinkState.WAITING, "open, nothing has arrived yet")
    receiving = LinkReport("udp", LinkState.RECEIVING, "receiving; 3 lost")
    broken = [LinkReport("udp", LinkState.BROKEN, f"gone; trying again in {n} s", n) for n in (1, 2)]
    seen = [
        LinkReport("udp", LinkState.OPENING, "opening"), waiting, waiting, receiving, receiving,
        LinkReport("udp", LinkState.SILENT, "no data for 2 s"), LinkReport("udp", LinkState.SILENT, "no data for 3 s"),
        receiving, broken[0], broken[0], broken[1], receiving,
    ]  # fmt: skip
    for now in seen:
        changes.update(now)
    assert said == [
        "udp: open, nothing has arrived yet",
        "udp: receiving; 3 lost",
        "udp: no data for 2 s; its values are unknown until data arrive again",
        "udp: receiving again; 3 lost",
        "udp: gone; trying again in 1 s",
        "udp: gone; trying again in 2 s",
        "udp: receiving again; 3 lost",
    ]
