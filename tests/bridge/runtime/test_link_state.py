"""Tests of bridge.runtime.link_state: the state of a link, and one line for each change."""

from __future__ import annotations

from adapters.links.memory import MemoryLink
from bridge.runtime.device import Device
from bridge.runtime.link_state import LinkChangeLog, LinkReport, LinkState, link_report
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link
from tests.contract.waiting import ManualClock


async def open_link(device: Device, link: MemoryLink) -> None:
    """Open the link and give it to the supervisor."""
    await link.__aenter__()
    device.runner.supervised_link.link = link


def receive(device: Device, link: MemoryLink, data: bytes) -> None:
    """Deliver a datagram to the link and the session now."""
    link.feed(data)
    device.session.receive(data, device.runner.clock())


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
    supervised = device.runner.supervised_link
    supervised.failure, supervised.retry_at_s, supervised.failures = "port in use", clock() + 4, 3
    broken_reports = link_report(supervised, device.session.receiver.health, "udp://127.0.0.1:1", clock())
    assert broken_reports == LinkReport("memory", LinkState.BROKEN, "port in use; trying again in 4 s", 3)
    assert not broken_reports.healthy


def test_each_change_is_printed_once() -> None:
    """Several looks at one state print one line; each new attempt at a broken link prints one more."""
    lines: list[str] = []
    changes = LinkChangeLog(lines.append)
    waiting = LinkReport("udp", LinkState.WAITING, "open, nothing has arrived yet")
    receiving = LinkReport("udp", LinkState.RECEIVING, "receiving; 3 lost")
    broken_reports = [LinkReport("udp", LinkState.BROKEN, f"gone; trying again in {n} s", n) for n in (1, 2)]
    reports = [
        LinkReport("udp", LinkState.OPENING, "opening"), waiting, waiting, receiving, receiving,
        LinkReport("udp", LinkState.SILENT, "no data for 2 s"), LinkReport("udp", LinkState.SILENT, "no data for 3 s"),
        receiving, broken_reports[0], broken_reports[0], broken_reports[1], receiving,
    ]  # fmt: skip
    for report in reports:
        changes.update(report)
    assert lines == [
        "udp: open, nothing has arrived yet",
        "udp: receiving; 3 lost",
        "udp: no data for 2 s; its values are unknown until data arrive again",
        "udp: receiving again; 3 lost",
        "udp: gone; trying again in 1 s",
        "udp: gone; trying again in 2 s",
        "udp: receiving again; 3 lost",
    ]
