"""`holdshort watch`: listen to a simulator and tell the crew what stands in the way.

The link is tried again for as long as it takes; each failure says when.  Ctrl-C (or a polite kill) ends it with the
findings so far and exit code 0.

Takes: a pack, a trip sheet, a link and a map.  Gives: a live view (or lines), until it is stopped.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import structlog
import typer
from rich.console import Console

from adapters.build import FORMATS
from adapters.mapping.load import load_map
from bridge.control import PORT, door
from bridge.lines import Lines
from bridge.live import run_until
from bridge.logs import logged
from bridge.loop import run
from bridge.reception import Changes
from bridge.rig import Rig, build_rig
from bridge.screen import SHORT_CAUTION, console_for
from bridge.sent import sent_signals
from bridge.stopping import stop_asked, unless
from bridge.summary import print_findings
from rules.packs.load import load_pack
from rules.packs.model import Pack
from rules.packs.trip import load_trip


def watch(
    *,
    pack: Annotated[str, typer.Option("--pack", help="A pack's folder, or the name of one that we ship.")],
    trip: Annotated[Path, typer.Option("--trip", help="The trip sheet.")],
    link: Annotated[str, typer.Option("--link", help="udp://, tcp://, tcp-listen:// or zmq://HOST:PORT.")],
    map_name: Annotated[str, typer.Option("--map", help="Map file that binds raw fields to signals.")] = "",
    form: Annotated[str, typer.Option("--format", help=f"Without a map: {', '.join(FORMATS)}.")] = "msgpack",
    peer: Annotated[
        list[str] | None,
        typer.Option("--peer", metavar="ADDRESS", help="Address that may send, beyond loopback."),
    ] = None,
    door_port: Annotated[
        int, typer.Option("--door", help="Port for holdshort call; 0 is any free one.", min=0, max=65535)
    ] = PORT,
    headless: Annotated[bool, typer.Option("--headless", help="Lines instead of a live view.")] = False,
    log: Annotated[Path | None, typer.Option("--log", help="Write the log here, as JSON lines.")] = None,
) -> None:
    """Watch a simulator and tell what stands in the way; Ctrl-C ends it with a summary."""
    papers = load_trip(trip)
    rules = load_pack(pack, trip=papers)
    map_file = load_map(map_name, sent_signals(rules)) if map_name else None
    console = console_for()
    live = console.is_terminal and not console.is_dumb_terminal and not headless
    rig = build_rig(rules, papers, link, form=form, map_file=map_file, peers=peer or ())
    with logged(log, quiet=True):
        _say_faults(console, rules)
        with suppress(KeyboardInterrupt):  # so Ctrl-C arrives where the loop takes no signals
            run(_watch(rig, door_port, console, live=live))
    print_findings(console, rig.journal, rules.seats)


def _say_faults(console: Console, rules: Pack) -> None:
    """Conditions that are broken, each with its fault; the rest of the pack runs."""
    for fault in rules.faults:
        console.print(str(fault), soft_wrap=True)
        structlog.get_logger("pack").warning("broken condition", fault=str(fault))
    if rules.faults:
        console.print(f"{len(rules.faults)} broken, shown as UNKNOWN; the rest of the pack runs")


async def _watch(rig: Rig, port: int, console: Console, *, live: bool) -> None:
    with stop_asked() as asked:
        async with door(rig.answer, port) as opened:
            if not live:
                _tell_in_lines(rig, console, asked)
            said = f"watching {rig.run.address}; calls are taken at port {opened}\n{SHORT_CAUTION}"
            console.print(said, soft_wrap=True)
            never = asyncio.Event().wait()
            await run_until(rig.run, unless(asked, never), rig.draw if live else None, console)


def _tell_in_lines(rig: Rig, console: Console, asked: asyncio.Event) -> None:
    """Print what the core says, and what becomes of the link; nobody reading ends the watch."""
    lines = Lines(console, rig.pack, asked.set)
    changes = Changes(lines.link)
    rig.listen(lines)
    rig.run.beat = lambda: changes.look(rig.reception())
