"""Tests of the report of a device's link: its state, by what the source received."""

from __future__ import annotations

from adapters.link_report import LinkReport, LinkState
from adapters.links.memory import MemoryLink
from bridge.runtime.device import Device
from rules.packs.model import Pack
from rules.signals.model import Quality
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock


async def open_link(device: Device, link: MemoryLink) -> None:
    """Open the link and give it to the supervisor."""
    await link.__aenter__()
    device.source.link = link


async def receive(device: Device, link: MemoryLink, data: bytes) -> None:
    """Deliver a datagram to the link, and from it to the session now."""
    link.feed(data)
    datagram = await anext(link)
    feed(device, datagram.data, datagram.recv_s)


async def test_the_state_follows_the_link(pack: Pack, clock: ManualClock) -> None:
    """Each state has a text with its duration."""
    device, link = device_on_memory_link(pack, clock)
    sender = FrameSender()
    assert device.link_report().state is LinkState.OPENING
    await open_link(device, link)
    assert device.link_report() == LinkReport("memory", LinkState.WAITING, "open, nothing has arrived yet")
    await receive(device, link, sender.datagram(0.0))
    assert device.link_report() == LinkReport("memory", LinkState.RECEIVING, "receiving")
    clock.now_s += 14
    silent = device.link_report()
    assert (silent.state, silent.text, silent.healthy) == (LinkState.SILENT, "no data for 14 s", False)
    await receive(device, link, sender.datagram(1.0))
    assert device.link_report().state is LinkState.RECEIVING
    clock.now_s += 3
    await receive(device, link, b"\xff\x00")
    unreadable = device.link_report()
    assert unreadable.state is LinkState.UNREADABLE
    assert unreadable.text.startswith("packets received, none can be decoded")


async def test_a_broken_link_has_its_reason_and_next_attempt(pack: Pack, clock: ManualClock) -> None:
    """After a failure the report has the reason and the time to the next attempt, also after a reception."""
    device, link = device_on_memory_link(pack, clock)
    await open_link(device, link)
    await receive(device, link, FrameSender().datagram(0.0))
    source = device.source
    source.failure, source.retry_at_s, source.failures = "port in use", clock() + 4, 3
    broken = device.link_report()
    assert broken == LinkReport("memory", LinkState.BROKEN, "port in use; trying again in 4 s", 3)
    assert not broken.healthy


async def test_a_program_that_falls_behind_says_so(pack: Pack, clock: ManualClock) -> None:
    """While old datagrams wait, the report has their age and number, until it has caught up."""
    device, link = device_on_memory_link(pack, clock)
    sender = FrameSender()
    await open_link(device, link)
    await receive(device, link, sender.datagram(0.0))
    for second in range(1, 6):
        clock.now_s += 1.0
        link.feed(sender.datagram(float(second)))
    behind = device.link_report()
    assert (behind.state, behind.text) == (
        LinkState.BEHIND,
        "this computer is 4 s behind: 5 packets to judge",
    )
    assert not behind.healthy
    for _ in range(3):
        datagram = await anext(link)
        feed(device, datagram.data, datagram.recv_s)
    assert device.link_report().state is LinkState.BEHIND
    for _ in range(2):
        datagram = await anext(link)
        feed(device, datagram.data, datagram.recv_s)
    assert device.link_report().state is LinkState.RECEIVING


async def test_what_waits_in_our_queue_does_not_age(pack: Pack, clock: ManualClock) -> None:
    """A value becomes stale when the simulator has not sent it for its age limit, not when we have not read it."""
    device, link = device_on_memory_link(pack, clock)
    sender = FrameSender()
    await open_link(device, link)
    await receive(device, link, sender.datagram(0.0))
    for second in range(1, 11):
        clock.now_s += 1.0
        link.feed(sender.datagram(float(second)))
    device.runner.tick()
    assert {sample.quality for sample in device.session.snapshot().samples.values()} == {Quality.FRESH}
    while link.backlog:
        datagram = await anext(link)
        feed(device, datagram.data, datagram.recv_s)
    clock.now_s += 10.0
    device.runner.tick()
    assert Quality.STALE in {sample.quality for sample in device.session.snapshot().samples.values()}
