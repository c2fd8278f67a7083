"""The options that say what is kept, and the recording while a flight is watched.

Takes: options and rigs.  Gives: a block of time in which sessions are recorded, and lines on where.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from typing import Annotated, NamedTuple, TypeAlias

import structlog
import typer
from rich.console import Console
from sqlalchemy.exc import DBAPIError

from bridge.keep import Keep, keep_for
from bridge.live import TICK_S
from bridge.people.retention import tidy
from bridge.record.keeping import recorded
from bridge.record.received import Replay
from bridge.record.writer import Limits
from bridge.rig import Rig
from bridge.store.keeping import stored
from bridge.store.opening import open_store, shown, store_url, why
from rules.faults import HoldshortError

KeepAt: TypeAlias = Annotated[
    str,
    typer.Option("--keep", metavar="FOLDER", help="Where recordings and the store are kept, or off."),
]
Budget: TypeAlias = Annotated[
    float,
    typer.Option(
        "--keep-at-most", metavar="GB", help="What all recordings may take; the oldest give way.", min=0.01
    ),
]
StoreAt: TypeAlias = Annotated[
    str,
    typer.Option(
        "--store", metavar="URL", help="Another database than a file in the folder, such as postgresql://…"
    ),
]
BUDGET_GB = Limits().budget / 1e9


class Keeping(NamedTuple):
    """What is kept, and where: a folder (None keeps nothing), what recordings may take in it, the store's address."""

    keep: Keep | None
    budget_gb: float = BUDGET_GB
    store: str = ""


def keeping_for(keep: str, budget_gb: float, store: str, *, default: str | None = None) -> Keeping:
    """What these options say.

    Args:
        keep: a folder, `off`, or ''.
        budget_gb: what all recordings may take, in units of 1 000 000 000 bytes.
        store: the address of a database, or ''.
        default: the folder where neither option nor environment names one.

    Raises:
        InputFaults: a folder cannot be made, or an address is none.
    """
    kept = keep_for(keep, default=default)
    return Keeping(kept, budget_gb, store_url(kept, store) if kept is not None else "")


@asynccontextmanager
async def keeping(rigs: Sequence[Rig], what: Keeping, console: Console) -> AsyncIterator[None]:
    """Record every session and store it while the block runs; what is played from a recording is kept already.

    Args:
        rigs: the devices.
        what: what is kept, and where.
        console: where lines on each recording and the store go at the end.
    """
    live = [rig for rig in rigs if not isinstance(rig.run, Replay)]
    keep, limits = what.keep if live else None, Limits(budget=round(what.budget_gb * 1e9))
    spool, recordings = (keep.spool, keep.recordings) if keep is not None else (None, None)
    said: list[str] = []
    async with (
        stored(live, spool, what.store, recorded=True) as drains,
        recorded(live, recordings, limits) as recorders,
    ):
        clearing = asyncio.create_task(asyncio.to_thread(_clear, what) if live else asyncio.sleep(0))
        try:
            yield
        finally:
            await asyncio.gather(clearing, return_exceptions=True)
            said += [f"RECORD {recorder.words}" for recorder in recorders]
    said += [f"STORE  {shown(what.store)}: {drain.words}" for drain in drains]
    for words in said:
        with suppress(BrokenPipeError):  # nobody reads
            console.print(words, soft_wrap=True)


def _clear(what: Keeping) -> None:
    """Remove what is older than sessions are kept; where that cannot be done now, the next watch will."""
    if what.keep is None:
        return
    log = structlog.get_logger("store")
    try:
        engine = open_store(what.store)
    except HoldshortError as error:
        log.warning("not tidied", why=str(error))
        return
    try:
        old = tidy(engine, what.keep, time.time())
        if old.stuck:
            log.warning("not tidied", why="a recording cannot be removed", recordings=old.stuck)
        elif old.sessions and not old.done:
            doubt = "more sessions would go than stay: is the clock right? holdshort tidy does it"
            log.warning("not tidied", why=doubt)
        elif old.sessions:
            log.info("tidied", sessions=len(old.sessions), recordings=len(old.recordings))
    except DBAPIError as error:
        log.warning("not tidied", why=why(error))
    finally:
        engine.dispose()


async def played(rigs: Sequence[Rig]) -> None:
    """Wait until all that is played from recordings was played; for ever where a simulator is watched too."""
    runs = [rig.run for rig in rigs]
    while not all(isinstance(run, Replay) and run.over() for run in runs):  # noqa: ASYNC110 - two clocks meet here
        await asyncio.sleep(TICK_S)
    await asyncio.sleep(TICK_S)
