"""Removes expired sessions in the background when a watch starts.

Takes: the data folder and the store's address.  Gives: a block while which the removal runs in a thread.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import structlog
from sqlalchemy.exc import DBAPIError

from bridge.privacy.retention import prune
from bridge.store.database import database_message, open_store
from bridge.store.persistence import PersistOptions
from rules.faults import HoldshortError


@asynccontextmanager
async def pruning(options: PersistOptions, *, enabled: bool = True) -> AsyncIterator[None]:
    """Remove expired sessions in a thread while the block runs; wait for the thread at the end.

    Args:
        options: the data folder and the store.
        enabled: False removes nothing, for a watch that only plays recordings.
    """
    if not enabled or options.data_dir is None:
        yield
        return
    removal = asyncio.create_task(asyncio.to_thread(_prune_old_sessions, options))
    try:
        yield
    finally:
        await asyncio.gather(removal, return_exceptions=True)


def _prune_old_sessions(options: PersistOptions) -> None:
    """Remove expired sessions; where that fails, the next watch tries again."""
    if options.data_dir is None:
        return
    log = structlog.get_logger("store")
    try:
        engine = open_store(options.store_url)
    except HoldshortError as error:
        log.warning("not pruned", why=str(error))
        return
    try:
        old = prune(engine, options.data_dir, time.time())
        if old.not_removable:
            log.warning("not pruned", why="a recording cannot be removed", recordings=old.not_removable)
        elif old.sessions and not old.removed:
            doubt = (
                "more sessions would be removed than stay: is the clock right? holdshort prune removes them"
            )
            log.warning("not pruned", why=doubt)
        elif old.sessions:
            log.info("pruned", sessions=len(old.sessions), recordings=len(old.recordings))
    except DBAPIError as error:
        log.warning("not pruned", why=database_message(error))
    finally:
        engine.dispose()
