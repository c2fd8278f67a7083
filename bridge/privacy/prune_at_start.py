"""Removes expired sessions in the background when a watch starts.

Takes: the options of persistence.  Gives: a context manager during which sessions are pruned once.
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
    """Remove expired sessions in a thread while the block runs, and wait for the thread at its end.

    Args:
        options: The data directory and the address of the store.
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
    """Remove expired sessions; if this is impossible now, the next watch tries again."""
    if options.data_dir is None:
        return
    log = structlog.get_logger("store")
    try:
        engine = open_store(options.store_url)
    except HoldshortError as error:
        log.warning("not pruned", why=str(error))
        return
    try:
        report = prune(engine, options.data_dir, time.time())
        if report.not_removable:
            log.warning("not pruned", why="a recording cannot be removed", recordings=report.not_removable)
        elif report.sessions and not report.removed:
            reason = "more sessions would be removed than stay: is the clock right? use holdshort prune"
            log.warning("not pruned", why=reason)
        elif report.sessions:
            log.info("pruned", sessions=len(report.sessions), recordings=len(report.recordings))
    except DBAPIError as error:
        log.warning("not pruned", why=database_message(error))
    finally:
        engine.dispose()
