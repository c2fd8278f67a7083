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

REFRESH_S = 0.25
SHARE = 0.1
"""At most so much of the time goes into making panels; a busy machine shows less often."""

Maker = Callable[[], str]


class Watcher:
    """One client: which panels it shows and how new those are that it has; a restless one is woken at every refresh."""

    def __init__(self, board: Board, names: Sequence[str], *, restless: bool = False) -> None:
        """It has seen nothing yet."""
        self.restless = restless
        self.names = tuple(names)
        self.bell = asyncio.Event()
        self._board = board
        self._seen = dict.fromkeys(names, 0)

    def news(self) -> list[tuple[str, str]]:
        """Name and text of each panel that is newer than what it has; it has them then."""
        self.bell.clear()
        fresh = [(name, *self._board.panel(name)) for name in self.names]
        fresh = [part for part in fresh if part[2] > self._seen[part[0]]]
        self._seen.update((name, version) for name, _, version in fresh)
        return [(name, text) for name, text, _ in fresh]


class Board:
    """The panels of one rig."""

    def __init__(self, makers: Mapping[str, Maker]) -> None:
        """Nothing is made yet.

        Args:
            makers: per panel what makes its text.
        """
        self._makers = makers
        self._wanted: Counter[str] = Counter()
        self._watchers: set[Watcher] = set()
        self._panels: dict[str, tuple[str, int]] = {}
        self._version = 0
        self._log = structlog.get_logger("page")

    @property
    def names(self) -> tuple[str, ...]:
        """Every panel that there is."""
        return tuple(self._makers)

    @property
    def watchers(self) -> int:
        """How many clients look at it now."""
        return len(self._watchers)

    def panel(self, name: str) -> tuple[str, int]:
        """A panel's text and version; made now if nobody looked at it before."""
        if name not in self._panels:
            self._make(name)
        return self._panels[name]

    @contextmanager
    def watched(self, names: Sequence[str], *, restless: bool = False) -> Iterator[Watcher]:
        """While the block runs, these panels are kept up to date.

        Args:
            names: of the board's panels.
            restless: whether the client is woken at every refresh, for it looks at more than panels.
        """
        watcher = Watcher(self, names, restless=restless)
        for name in names:
            if not self._wanted[name]:
                self._make(name)
        self._wanted.update(names)
        self._watchers.add(watcher)
        try:
            yield watcher
        finally:
            self._watchers.discard(watcher)
            self._wanted.subtract(names)
            self._wanted += Counter()

    def refresh(self) -> None:
        """Make anew what somebody looks at, and ring where that changed something."""
        changed = [name for name in tuple(self._wanted) if self._make(name)]
        for watcher in self._watchers:
            if changed or watcher.restless:
                watcher.bell.set()

    def ring(self) -> None:
        """Wake every client."""
        for watcher in self._watchers:
            watcher.bell.set()

    async def keep_fresh(self) -> None:
        """Refresh for ever."""
        cost_s = 0.0
        while True:
            await asyncio.sleep(max(REFRESH_S, cost_s / SHARE))
            began_s = time.perf_counter()
            self.refresh()
            cost_s = time.perf_counter() - began_s

    def _make(self, name: str) -> bool:
        """Make one panel; whether it changed.  One that cannot be made stays as it was, and that is logged."""
        try:
            text = self._makers[name]()
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
