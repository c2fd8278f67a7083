"""Tests of the report of a device's link: its state, by what the source received."""

from __future__ import annotations

from adapters.link_report import LinkReport, LinkState
from adapters.links.memory import MemoryLink
from bridge.runtime.device import Device
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock


async def open_link(device: Device, link: MemoryLink) -> None:
    """Open the link and give it to the supervisor."""
    await link.__aenter__()
    device.source.link = link


def receive(device: Device, link: MemoryLink, data: bytes) -> None:
    """Deliver a datagram to the link and the session now."""
    link.feed(data)
    feed(device, data, device.source.clock())


async def test_the_state_follows_the_link(pack: Pack, clock: ManualClock) -> None:
    """Each state has a text with its duration."""
    device, link = device_on_memory_link(pack, clock)
    sender = FrameSender()
    assert device.link_report().state is LinkState.OPENING
    await open_link(device, link)
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


async def test_a_broken_link_has_its_reason_and_next_attempt(pack: Pack, clock: ManualClock) -> None:
    """After a failure the report has the reason and the time to the next attempt, also after a reception."""
    device, link = device_on_memory_link(pack, clock)
    await open_link(device, link)
    receive(device, link, FrameSender().datagram(0.0))
    source = device.source
    source.failure, source.retry_at_s, source.failures = "port in use", clock() + 4, 3
    broken = device.link_report()
    assert broken == LinkReport("memory", LinkState.BROKEN, "port in use; trying again in 4 s", 3)
    assert not broken.healthy
