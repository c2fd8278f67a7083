"""Ties rigs to the store: each session is kept, and what stands in the way is told.

Takes: rigs, a folder, the address of a store.  Gives: a block of time in which their sessions are kept.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from bridge.notes import Change
from bridge.record.keeping import head_of
from bridge.record.shelf import stem_for
from bridge.rig import Rig
from bridge.session import Session
from bridge.store.drain import Drain
from bridge.store.keeper import Keeper
from bridge.store.kept import Begun
from bridge.store.spool import Spool

DRAIN_WITHIN_S = 5.0
"""How long the end of a watch waits for the database; what is not in it by then waits in its spool for the next watch."""


class Kept:
    """A rig whose sessions are kept; says each trouble once, as a note of the session."""

    def __init__(self, rig: Rig, folder: Path, drain: Drain, *, recorded: bool) -> None:
        """Keep the rig's sessions from now on.

        Args:
            rig: the device.
            folder: the spools'.
            drain: puts them into the store.
            recorded: whether the sessions are recorded as well.
        """
        self._rig, self._folder, self._drain, self._recorded = rig, folder, drain, recorded
        self._keeper: Keeper | None = None
        self._told = ""
        rig.attend(self._begin)
        rig.run.beats.append(self.look)
        rig.troubles.append(lambda: self.trouble)

    def _begin(self, session: Session) -> None:
        """Keep a session, and the one before no more."""
        if self._keeper is not None:
            self._keeper.close()
        head = head_of(self._rig, session)
        recording = stem_for(head.began_utc, head.device, head.session) if self._recorded else ""
        begun = Begun(head, dict(self._rig.pack.seats), recording)
        self._keeper = Keeper(Spool(self._folder, session.uuid), self._rig.pack, begun, session)
        session.keepers.append(self._keeper)

    def look(self) -> None:
        """Try again what waits in memory, and tell a trouble that is new or over."""
        if self._keeper is not None:
            self._keeper.spool.flush()
        trouble = self.trouble
        if trouble != self._told:
            self._told, before = trouble, self._told
            if trouble:
                self._rig.session.note(Change.UNSTORED, trouble)
            elif before:
                self._rig.session.note(Change.STORED)

    @property
    def trouble(self) -> str:
        """What stands in the way, the disk before the database."""
        spool = self._keeper.spool if self._keeper is not None else None
        if spool is not None and spool.trouble:
            return f"what is found is kept in memory only: {spool.trouble} ({self._folder})"
        if self._drain.trouble:
            return f"what is found waits on the disk: {self._drain.trouble}"
        return ""

    def close(self) -> None:
        """The session is watched no more."""
        if self._keeper is not None:
            self._keeper.close()
            self._keeper = None


@asynccontextmanager
async def stored(
    rigs: Sequence[Rig],
    folder: Path | None,
    url: str,
    *,
    recorded: bool,
    make: Callable[[Path, str], Drain] = Drain,
) -> AsyncIterator[list[Drain]]:
    """Keep every session of some rigs while the block runs.

    Args:
        rigs: the devices.
        folder: the spools'; it exists.  None: nothing is kept.
        url: the store's.
        recorded: whether the sessions are recorded as well.
        make: makes what puts the spools into the store.

    Yields:
        What puts them into the store, if anything is kept.
    """
    if folder is None:
        yield []
        return
    drain = make(folder, url)
    kept = [Kept(rig, folder, drain, recorded=recorded) for rig in rigs]
    draining = asyncio.create_task(drain.run(), name="store")
    try:
        yield [drain]
    finally:
        draining.cancel()
        with suppress(asyncio.CancelledError):
            await draining
        for each in kept:
            each.close()
        with suppress(TimeoutError):
            await asyncio.wait_for(asyncio.to_thread(drain.finish), DRAIN_WITHIN_S)
