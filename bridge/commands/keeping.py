"""The options that say what is kept, and the recording while a flight is watched.

Takes: options and rigs.  Gives: a block of time in which sessions are recorded, and lines on where.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from typing import Annotated, TypeAlias

import typer
from rich.console import Console

from bridge.keep import Keep
from bridge.live import TICK_S
from bridge.record.keeping import recorded
from bridge.record.received import Replay
from bridge.record.writer import Limits
from bridge.rig import Rig

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
BUDGET_GB = Limits().budget / 1e9


@asynccontextmanager
async def keeping(
    rigs: Sequence[Rig], keep: Keep | None, budget_gb: float, console: Console
) -> AsyncIterator[None]:
    """Record every session while the block runs; what is played from a recording is not recorded again.

    Args:
        rigs: The devices.
        keep: Where; None keeps nothing.
        budget_gb: What all recordings may take, in units of 1 000 000 000 bytes.
        console: Where a line on each recording goes at the end.
    """
    live = [rig for rig in rigs if not isinstance(rig.run, Replay)]
    folder = keep.recordings if keep is not None else None
    async with recorded(live, folder, Limits(budget=round(budget_gb * 1e9))) as recorders:
        try:
            yield
        finally:
            said = [recorder.words for recorder in recorders]
    for words in said:
        with suppress(BrokenPipeError):  # nobody reads
            console.print(f"RECORD {words}", soft_wrap=True)


async def played(rigs: Sequence[Rig]) -> None:
    """Wait until all that is played from recordings was played; for ever where a simulator is watched too."""
    runs = [rig.run for rig in rigs]
    while not all(isinstance(run, Replay) and run.over() for run in runs):  # noqa: ASYNC110 - two clocks meet here
        await asyncio.sleep(TICK_S)
    await asyncio.sleep(TICK_S)
