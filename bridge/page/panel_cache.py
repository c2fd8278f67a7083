"""What a rig's pages show: each panel is made once for all who look at it, and only while somebody does.

A client holds no queue: it is told that something is new, and takes what is newest when it can.  One that is
slow or asleep costs nothing and delays nobody.

Takes: a rig, and how each panel is made.  Gives: `Board`, and a `Watcher` for each client.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager

import structlog

REFRESH_INTERVAL_S = 0.25
MAX_TIME_SHARE = 0.1
"""At most so much of the time goes into making panels; a busy machine shows less often."""

PanelRenderer = Callable[[], str]


class Client:
    """One client: which panels it shows and how new those are that it has; a restless one is woken at every refresh."""

    def __init__(self, cache: PanelCache, names: Sequence[str], *, wake_always: bool = False) -> None:
        """It has seen nothing yet."""
        self.wake_always = wake_always
        self.names = tuple(names)
        self.wakeup = asyncio.Event()
        self._cache = cache
        self._versions = dict.fromkeys(names, 0)

    def updates(self) -> list[tuple[str, str]]:
        """Name and text of each panel that is newer than what it has; it has them then."""
        self.wakeup.clear()
        fresh = [(name, *self._cache.panel(name)) for name in self.names]
        fresh = [part for part in fresh if part[2] > self._versions[part[0]]]
        self._versions.update((name, version) for name, _, version in fresh)
        return [(name, text) for name, text, _ in fresh]


class PanelCache:
    """The panels of one rig."""

    def __init__(self, renderers: Mapping[str, PanelRenderer]) -> None:
        """Nothing is made yet.

        Args:
            renderers: per panel what makes its text.
        """
        self._renderers = renderers
        self._subscriptions: Counter[str] = Counter()
        self._clients: set[Client] = set()
        self._panels: dict[str, tuple[str, int]] = {}
        self._version = 0
        self._log = structlog.get_logger("page")

    @property
    def names(self) -> tuple[str, ...]:
        """Every panel that there is."""
        return tuple(self._renderers)

    @property
    def client_count(self) -> int:
        """How many clients look at it now."""
        return len(self._clients)

    def panel(self, name: str) -> tuple[str, int]:
        """A panel's text and version; made now if nobody looked at it before."""
        if name not in self._panels:
            self._render(name)
        return self._panels[name]

    @contextmanager
    def subscribe(self, names: Sequence[str], *, wake_always: bool = False) -> Iterator[Client]:
        """While the block runs, these panels are kept up to date.

        Args:
            names: of the board's panels.
            wake_always: whether the client is woken at every refresh, for it looks at more than panels.
        """
        watcher = Client(self, names, wake_always=wake_always)
        for name in names:
            if not self._subscriptions[name]:
                self._render(name)
        self._subscriptions.update(names)
        self._clients.add(watcher)
        try:
            yield watcher
        finally:
            self._clients.discard(watcher)
            self._subscriptions.subtract(names)
            self._subscriptions += Counter()

    def refresh(self) -> None:
        """Make anew what somebody looks at, and ring where that changed something."""
        changed = [name for name in tuple(self._subscriptions) if self._render(name)]
        for watcher in self._clients:
            if changed or watcher.wake_always:
                watcher.wakeup.set()

    def wake_all(self) -> None:
        """Wake every client."""
        for watcher in self._clients:
            watcher.wakeup.set()

    async def refresh_periodically(self) -> None:
        """Refresh for ever."""
        cost_s = 0.0
        while True:
            await asyncio.sleep(max(REFRESH_INTERVAL_S, cost_s / MAX_TIME_SHARE))
            began_s = time.perf_counter()
            self.refresh()
            cost_s = time.perf_counter() - began_s

    def _render(self, name: str) -> bool:
        """Make one panel; whether it changed.  One that cannot be made stays as it was, and that is logged."""
        try:
            text = self._renderers[name]()
        except Exception as error:  # noqa: BLE001 - a panel may fail in any way; the others go on
            self._log.error("panel failed", panel=name, why=repr(error))
            text = (
                self._panels.get(name, ("", 0))[0] or "<p>This panel cannot be shown: it is logged why.</p>"
            )
        if name in self._panels and self._panels[name][0] == text:
            return False
        self._version += 1
        self._panels[name] = (text, self._version)
        return True
