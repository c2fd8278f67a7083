"""Renders each panel once for all clients that show it, and once more for each page that is fetched.

A client has no queue.  It is only woken, and then takes the newest text of each panel that is newer than its own:

    time             1    2    3    4    5
    panel version    7    8    9    9   10
    fast client      7    8    9    -   10
    slow client      7    .    .    9   10     (8 is skipped, nothing piles up)

So a slow or sleeping client costs no memory and delays no other client.

Takes: a function for each panel that gives its text.  Gives: `PanelCache`, and a `Client` for each stream.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager

import structlog

from bridge.common.time_text import time_of_day

REFRESH_INTERVAL_S = 0.25
MAX_TIME_SHARE = 0.2
"""The largest share of the time that is spent on rendering, for all caches together; a busy machine refreshes less often."""
FAILED_PANEL = '<p class="notnow" role="status">This panel has failed since {since} UTC. See the log.</p>'

PanelRenderer = Callable[[], str]


class Client:
    """One client: the panels that it shows, and the version of each that it was sent."""

    def __init__(self, cache: PanelCache, names: Sequence[str], *, wake_always: bool = False) -> None:
        """Start with no panel sent.

        Args:
            cache: renders the panels.
            names: the panels that the client shows.
            wake_always: wake the client at every refresh, even if no panel changed.
        """
        self.wake_always = wake_always
        self.names = tuple(names)
        self.wakeup = asyncio.Event()
        self._cache = cache
        self._versions = dict.fromkeys(names, 0)

    def updates(self) -> list[tuple[str, str]]:
        """Return name and text of each panel that is newer than the version sent, and note them as sent."""
        # Cleared before the panels are read: a change after this line sets it again.  Cleared afterwards, a
        # change between reading and clearing would be lost, and the client would sleep over it.
        self.wakeup.clear()
        panels = [(name, *self._cache.panel(name)) for name in self.names]
        newer = [panel for panel in panels if panel[2] > self._versions[panel[0]]]
        self._versions.update((name, version) for name, _, version in newer)
        return [(name, text) for name, text, _ in newer]


class PanelCache:
    """The newest text of each panel, rendered again only while at least one client shows it."""

    def __init__(
        self, renderers: Mapping[str, PanelRenderer], wall_clock: Callable[[], float] = time.time
    ) -> None:
        """Render no panel yet.

        Args:
            renderers: renders each panel, by its name.
            wall_clock: seconds since 1970.
        """
        self._renderers, self._wall_clock = renderers, wall_clock
        self._failing_since: dict[str, float] = {}
        self._subscriptions: Counter[str] = Counter()
        self._clients: set[Client] = set()
        self._panels: dict[str, tuple[str, int]] = {}
        # One count for all panels, not one each: the versions of a panel still only grow, and a client that
        # compares versions needs no more than that.
        self._version = 0
        self._log = structlog.get_logger("page")

    @property
    def names(self) -> tuple[str, ...]:
        """All panels that can be rendered."""
        return tuple(self._renderers)

    @property
    def client_count(self) -> int:
        """Number of connected clients."""
        return len(self._clients)

    def panel(self, name: str) -> tuple[str, int]:
        """Return a panel's text and version; render it if that was never done."""
        if name not in self._panels:
            self._render(name)
        return self._panels[name]

    def render_now(self, name: str) -> str:
        """Render a panel for a page that is fetched, and return its text.

        The text of the last rendering may be of any age, since only what clients show is refreshed; a page without scripts
        or without a stream would keep it for good.
        """
        if self._render(name):
            # Otherwise the clients that show it would find it unchanged at the next refresh, and miss this text.
            self.wake_all()
        return self._panels[name][0]

    @contextmanager
    def subscribe(self, names: Sequence[str], *, wake_always: bool = False) -> Iterator[Client]:
        """Refresh these panels while the block runs.

        Args:
            names: panels of this cache.
            wake_always: wake the client at every refresh, because it also takes events of feeds.

        Yields:
            The client; its `wakeup` is set when a panel has changed.
        """
        client = Client(self, names, wake_always=wake_always)
        for name in names:
            # The cached text may be old: without subscribers it was not refreshed.
            if not self._subscriptions[name]:
                self._render(name)
        self._subscriptions.update(names)
        self._clients.add(client)
        try:
            yield client
        finally:
            self._clients.discard(client)
            self._subscriptions.subtract(names)
            self._subscriptions += Counter()  # drops the names whose count is 0

    def refresh(self) -> None:
        """Render the panels that clients show, and wake the clients if one has changed."""
        changed = [name for name in tuple(self._subscriptions) if self._render(name)]
        for client in self._clients:
            if changed or client.wake_always:
                client.wakeup.set()

    def wake_all(self) -> None:
        """Wake every client."""
        for client in self._clients:
            client.wakeup.set()

    def _render(self, name: str) -> bool:
        """Render one panel and return True if it changed; the text of one that fails says so, and since when.

        A panel that fails is logged once, until it is rendered again: its last text would be old, and look like the present.
        """
        try:
            text = self._renderers[name]()
            self._failing_since.pop(name, None)
        except Exception as error:  # noqa: BLE001 - a panel may fail in any way; the others are still rendered
            if name not in self._failing_since:
                self._failing_since[name] = self._wall_clock()
                self._log.error("panel failed", panel=name, why=repr(error))
            text = FAILED_PANEL.format(since=time_of_day(self._failing_since[name]))
        if name in self._panels and self._panels[name][0] == text:
            return False
        self._version += 1
        self._panels[name] = (text, self._version)
        return True


async def refresh_periodically(
    caches: Sequence[PanelCache],
    *,
    wait: Callable[[float], Awaitable[None]] = asyncio.sleep,
    clock: Callable[[], float] = time.perf_counter,
) -> None:
    """Refresh caches, one after the other, until the task is cancelled.

    The wait follows the cost of the last refresh of all of them, so that rendering never takes more than `MAX_TIME_SHARE` of the
    event loop, which also receives the simulators' data: with any number of devices, and also between two of them.

    Args:
        caches: the caches.
        wait: waits a number of seconds.
        clock: seconds, for the cost.
    """
    cost_s = 0.0
    while True:
        await wait(max(REFRESH_INTERVAL_S, cost_s / MAX_TIME_SHARE))
        cost_s = 0.0
        for cache in caches:
            began_s = clock()
            cache.refresh()
            cost_s += clock() - began_s
            await wait(0.0)
