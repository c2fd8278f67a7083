"""The way of one datagram through the packages, as it is called: no package is entered again that was left for good.

adapters (link, source, receiver)  ->  bridge (session, bus)  ->  rules (judge)  ->  bridge (bus, subscribers)
"""

from __future__ import annotations

import asyncio
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from inspect import CO_COROUTINE
from itertools import groupby
from pathlib import Path
from types import FrameType

from bridge.runtime.runner import run_until
from rules.packs.load_pack import load_pack
from tests.bridge.builders import FrameSender, device_on_memory_link, write_pack
from tests.contract.waiting import ManualClock, wait_until

ROOT = Path(__file__).parents[1]
PACKAGES = ("adapters", "bridge", "rules")
VALUES = ("rules.signals.model",)
"""Modules whose values all packages make."""
SENDER = ("adapters.encode", "adapters.links.memory")
"""The sender of this test."""


@contextmanager
def called_modules() -> Iterator[list[str]]:
    """Collect the modules of the packages whose functions are called in the block, in the order of the calls.

    A coroutine that goes on is no call.
    """
    found: list[str] = []

    def note(frame: FrameType, event: str, _: object) -> None:
        name = frame.f_globals.get("__name__", "")
        if event == "call" and not frame.f_code.co_flags & CO_COROUTINE and name.split(".")[0] in PACKAGES:
            found.append(name)

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        yield found
    finally:
        sys.setprofile(before)


async def modules_on_the_route(folder: Path, clock: ManualClock) -> list[str]:
    """Send a datagram that opens a finding, and give the modules that it passes."""
    device, link = device_on_memory_link(load_pack(str(write_pack(folder))), clock)
    sender, found = FrameSender(), list[str]()
    off = {"lights.beacon": "off"}

    async def work() -> None:
        link.feed(sender.datagram(0.0, off))
        await wait_until(lambda: device.session.snapshot().sim_s == 0.0)
        link.feed(sender.datagram(1.0, off, push_approved=1.0))
        await wait_until(lambda: device.session.snapshot().sim_s == 1.0)
        last = sender.datagram(4.0, off, push_approved=1.0)
        with called_modules() as modules:
            link.feed(last)
            await asyncio.sleep(0)
        found.extend(modules)

    await run_until([device.runner], work())
    assert device.journal.findings, "the datagram has to lead to a finding"
    return found


async def test_a_datagram_passes_each_boundary_once(tmp_path: Path) -> None:
    """The only way back is that of the judge's events: nothing of bridge calls adapters to read a datagram."""
    found = await modules_on_the_route(tmp_path / "pack", ManualClock())
    route = [name for name in found if name not in VALUES and not name.startswith(SENDER)]
    crossings = [package for package, _ in groupby(name.split(".")[0] for name in route)]
    after = ["adapters"] if crossings[-1] == "adapters" else []  # the link looks for the next datagram
    assert crossings == ["adapters", "bridge", "rules", "bridge", *after], route


async def test_the_figure_names_the_modules_of_the_route(tmp_path: Path) -> None:
    """Every module of the figure in DEVELOPERS.md that a datagram of this session can pass is passed, in this order."""
    found = await modules_on_the_route(tmp_path / "pack", ManualClock())
    text = (ROOT / "DEVELOPERS.md").read_text().partition("## Route of a datagram")[2]
    figure = text.partition("## ")[0]
    order = list(dict.fromkeys(found))
    paths = re.findall(r"^[ |+-]*((?:adapters|bridge|rules)/[\w/]+\.py)", figure, re.MULTILINE)
    assert len(paths) >= 20
    assert [path for path in paths if not (ROOT / path).exists()] == []
    named = [path.removesuffix(".py").replace("/", ".") for path in paths]
    passed = [order.index(name) for name in named if name in order]
    assert len(passed) >= 15
    assert passed == sorted(passed)
