"""Reads the counters of a device from its page, as they change: the stream of the panel `link`.

Takes: the address of a page, a device.  Gives: `LinkCounters`, and a wait for the next ones.
"""

from __future__ import annotations

import asyncio
import html
import re
from dataclasses import dataclass, field

from tests.browser.stream_clients import StreamClient

_STATE = re.compile(r'data-state="(\w+)"')
_REMEDY = re.compile(r'<p class="remedy">([^<]*)</p>')
_COUNTER = re.compile(r"<dt>([^<]+)</dt> <dd>(\d+)</dd> <dd class=\"meaning\">")
_REFUSAL = re.compile(r"<strong>([^<]+)</strong>, (\d+) times?")
ALL_IS_WELL = "Everything works"


@dataclass(frozen=True, slots=True)
class LinkCounters:
    """What the panel says.

    Attributes:
        state: State of the link.
        remedy: What the crew is to do.
        counts: The counters by their titles.
        refusals: Refused packets by reason.
    """

    state: str = ""
    remedy: str = ""
    counts: dict[str, int] = field(default_factory=dict)
    refusals: dict[str, int] = field(default_factory=dict)

    def count(self, title: str) -> int:
        """Give a counter; 0 where the panel does not have it yet."""
        return self.counts.get(title, 0)


def parse_link_panel(text: str) -> LinkCounters:
    """Read the text of the panel."""
    state, remedy = _STATE.search(text), _REMEDY.search(text)
    return LinkCounters(
        state[1] if state else "",
        html.unescape(remedy[1]) if remedy else "",
        {html.unescape(title): int(value) for title, value in _COUNTER.findall(text)},
        {html.unescape(why): int(count) for why, count in _REFUSAL.findall(text)},
    )


class LinkFollower(StreamClient):
    """A client that follows the panel of one device."""

    def __init__(self, device: str) -> None:
        super().__init__()
        self.device = device
        self.now = LinkCounters()
        self.false_words = 0
        self._changed = asyncio.Event()

    async def follow(self, address: str) -> None:
        """Read until the stream ends; then nothing waits for it any more."""
        try:
            await self.read(address, self.device, ("link",))
        finally:
            self.ended = True
            self._changed.set()

    def feed_line(self, line: str) -> None:
        """Take over the counters of a new panel, and count one that says that all is well while something was refused."""
        before = self.panel_count
        super().feed_line(line)
        if self.panel_count > before:
            self.now = parse_link_panel(self.panels["link"])
            self.false_words += bool(self.now.count("Refused")) and self.now.remedy.startswith(ALL_IS_WELL)
            self._changed.set()

    async def next_counters(self) -> LinkCounters:
        """Wait for the next ones.

        Raises:
            ConnectionError: The stream has ended.
        """
        self._changed.clear()
        if not self.ended:
            await self._changed.wait()
        if self.ended:
            raise ConnectionError("the watch sends no counters any more")
        return self.now
