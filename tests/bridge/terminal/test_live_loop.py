"""Tests of bridge.terminal.live_loop: a run with a screen in memory."""

from __future__ import annotations

from functools import partial

from bridge.terminal.live_loop import run_with_screen
from bridge.terminal.live_view import render_device
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, printed_text, text_console
from tests.contract.waiting import ManualClock, wait_until


async def test_the_last_state_stays_on_the_screen(pack: Pack, clock: ManualClock) -> None:
    """When the run ends the last state stays on the screen."""
    device, link = device_on_memory_link(pack, clock)
    link.feed(FrameSender().datagram(61.0))
    console = text_console()

    async def work() -> None:
        await wait_until(lambda: bool(device.journal.phases))

    await run_with_screen([device.runner], work(), partial(render_device, device), console)
    assert "simulator time 0:01:01" in printed_text(console)
