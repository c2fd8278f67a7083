"""`holdshort watch`: listen to a simulator and tell the crew what stands in the way.

Takes: a pack, a trip sheet, a link and a map.  Gives: a live view (or lines), until it is stopped.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Annotated

import structlog
import typer
from rich.console import Console

from adapters.build import FORMATS
from adapters.mapping.load import load_map
from bridge.control import PORT, door
from bridge.live import run_until
from bridge.logs import configure
from bridge.loop import run
from bridge.rig import Rig, build_rig
from bridge.screen import SHORT_CAUTION, clock, say_notice
from bridge.summary import print_findings
from rules.judge.entries import Entry, Notice, PhaseEntered
from rules.packs.load import load_pack
from rules.packs.trip import load_trip


def watch(
    *,
    pack: Annotated[str, typer.Option("--pack", help="A pack's folder, or the name of one that we ship.")],
    trip: Annotated[Path, typer.Option("--trip", help="The trip sheet.")],
    link: Annotated[str, typer.Option("--link", help="udp://, tcp://, tcp-listen:// or zmq://HOST:PORT.")],
    map_name: Annotated[str, typer.Option("--map", help="Map file that binds raw fields to signals.")] = "",
    form: Annotated[str, typer.Option("--format", help=f"Without a map: {', '.join(FORMATS)}.")] = "msgpack",
    peer: Annotated[
        list[str] | None, typer.Option("--peer", help="Address that may send, beyond loopback.")
    ] = None,
    door_port: Annotated[
        int, typer.Option("--door", help="Port for holdshort call.", min=0, max=65535)
    ] = PORT,
    headless: Annotated[bool, typer.Option("--headless", help="Lines instead of a live view.")] = False,
    log: Annotated[Path | None, typer.Option("--log", help="Write the log here, as JSON lines.")] = None,
) -> None:
    """Watch a simulator; stop with Ctrl-C."""
    papers = load_trip(trip)
    rules = load_pack(pack, trip=papers)
    map_file = load_map(map_name, rules.signals) if map_name else None
    console = Console(highlight=False)
    live = console.is_terminal and not headless
    configure(log, quiet=live)
    rig = build_rig(
        rules, papers, link, form=form, map_file=map_file, peers=peer or (),
        listeners=() if live else (Lines(console),),
    )  # fmt: skip
    for fault in rules.faults:
        structlog.get_logger("pack").warning("broken condition", fault=str(fault))
    try:
        run(_watch(rig, door_port, console, live=live))
    except KeyboardInterrupt:
        print_findings(console, rig.journal, dict(rules.seats))


async def _watch(rig: Rig, port: int, console: Console, *, live: bool) -> None:
    async with door(rig.session.answer, port) as opened:
        if not live:
            console.print(f"watching {rig.run.address}; calls are taken at port {opened}. {SHORT_CAUTION}")
        await run_until(rig.run, asyncio.Event().wait(), rig.draw if live else None, console)


class Lines:
    """A listener that prints phases and notices as lines."""

    def __init__(self, console: Console) -> None:
        """Print on this console."""
        self._console = console

    def __call__(self, entry: Entry) -> None:
        """Print the entry if it is for people."""
        if isinstance(entry, Notice):
            self._console.print(say_notice(entry))
        elif isinstance(entry, PhaseEntered):
            self._console.print(f"{clock(entry.sim_s)} PHASE    {entry.phase}")
