"""`holdshort watch`: listen to a simulator and tell the crew what stands in the way.

The link is tried again for as long as it takes; each failure says when.  Ctrl-C (or a polite kill) ends it with the
findings so far and exit code 0.

Takes: a pack, a trip sheet, a link and a map; or a file of devices.  Gives: a page and a live view (or lines), until
it is stopped.
"""

from __future__ import annotations

import asyncio
from collections.abc import Collection, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import structlog
import typer
from rich.console import Console

from adapters.build import FORMATS
from adapters.mapping.load import load_map
from bridge.commands.keeping import BUDGET_GB, Budget, KeepAt, Keeping, StoreAt, keeping, keeping_for, played
from bridge.commands.paging import HERE, At, KeyFile, paged
from bridge.commands.speaking import Speak, speaking, voice_for
from bridge.commands.telling import Tell, telling
from bridge.control import PORT, door
from bridge.devices import load_devices
from bridge.floor import Floor
from bridge.lines import Lines
from bridge.live import run_until
from bridge.logs import logged
from bridge.loop import run
from bridge.notify.base import Notifier
from bridge.notify.choose import choose
from bridge.reception import Changes
from bridge.record.replay import SCHEME, Stage
from bridge.requests import LONGEST_NAME, text_of
from bridge.rig import Rig, build_rig
from bridge.screen import SHORT_CAUTION, console_for
from bridge.sent import sent_signals
from bridge.stopping import stop_asked, unless
from bridge.summary import print_findings
from bridge.voice.engines import Voice
from rules.faults import Fault, InputFaults, Place
from rules.packs.load import load_pack
from rules.packs.model import Pack
from rules.packs.trip import load_trip


def watch(
    *,
    pack: Annotated[
        str, typer.Option("--pack", help="A pack's folder, or the name of one that we ship.")
    ] = "",
    trip: Annotated[Path | None, typer.Option("--trip", help="The trip sheet.")] = None,
    link: Annotated[
        str,
        typer.Option("--link", help="udp://, tcp://, tcp-listen:// or zmq://HOST:PORT; or recording:PATH."),
    ] = "",
    map_name: Annotated[str, typer.Option("--map", help="Map file that binds raw fields to signals.")] = "",
    form: Annotated[str, typer.Option("--format", help=f"Without a map: {', '.join(FORMATS)}.")] = "msgpack",
    peer: Annotated[
        list[str] | None,
        typer.Option("--peer", metavar="ADDRESS", help="Address that may send, beyond loopback."),
    ] = None,
    devices: Annotated[
        Path | None, typer.Option("--devices", help="Instead of these: a file of several simulators.")
    ] = None,
    door_port: Annotated[
        int, typer.Option("--door", help="Port for holdshort call; 0 is any free one.", min=0, max=65535)
    ] = PORT,
    page: At = HERE,
    key_file: KeyFile = None,
    tell: Tell = None,
    speak: Speak = False,
    keep: KeepAt = "",
    keep_at_most: Budget = BUDGET_GB,
    store: StoreAt = "",
    course: Annotated[
        str, typer.Option("--course", help="What the sessions belong to, for the trends.")
    ] = "",
    headless: Annotated[bool, typer.Option("--headless", help="Lines instead of a live view.")] = False,
    log: Annotated[Path | None, typer.Option("--log", help="Write the log here, as JSON lines.")] = None,
) -> None:
    """Watch a simulator and tell what stands in the way; Ctrl-C ends it with a summary."""
    if devices is not None:
        floor = _floor_of(devices, pack=pack, trip=trip, link=link)
    else:
        floor = Floor([_one(pack, trip, link, map_name, form, peer or ())])
    ways = choose(tell or ())
    voice = voice_for(floor) if speak else None
    kept = keeping_for(keep, keep_at_most, store)
    for rig in floor.rigs.values():
        rig.session.course = text_of("--course", course, LONGEST_NAME) if course else ""
    console = console_for()
    live = console.is_terminal and not console.is_dumb_terminal and not headless and len(floor.rigs) == 1
    with logged(log, quiet=True):
        for rig in floor.rigs.values():
            _say_faults(console, rig.pack)
        with suppress(KeyboardInterrupt):  # so Ctrl-C arrives where the loop takes no signals
            run(_watch(floor, door_port, page, key_file, ways, voice, kept, console, live=live))
    for rig in floor.rigs.values():
        if len(floor.rigs) > 1:
            console.print(f"\n{rig.title}", style="bold")
        print_findings(console, rig.journal, rig.pack.seats)


def _one(pack: str, trip: Path | None, link: str, map_name: str, form: str, peers: Collection[str]) -> Rig:
    """The one device that the options describe."""
    if link.startswith(SCHEME):
        return Stage(link, pack, load_trip(trip) if trip else None).rig
    missing = [name for name, given in (("--pack", pack), ("--trip", trip), ("--link", link)) if not given]
    if missing or trip is None:
        hint = "or several devices in a file with --devices"
        raise InputFaults([Fault(Place(name), f"{name} is not given", hint=hint) for name in missing])
    papers = load_trip(trip)
    rules = load_pack(pack, trip=papers)
    map_file = load_map(map_name, sent_signals(rules)) if map_name else None
    return build_rig(rules, papers, link, form=form, map_file=map_file, peers=peers)


def _floor_of(devices: Path, **given: object) -> Floor:
    """The devices of a file, which says all that these options say."""
    both = [f"--{name}" for name, value in given.items() if value]
    if both:
        raise InputFaults(
            [Fault(Place(name), "this stands in the file of devices", "one or the other") for name in both]
        )
    return Floor(load_devices(devices))


def _say_faults(console: Console, rules: Pack) -> None:
    """Conditions that are broken, each with its fault; the rest of the pack runs."""
    for fault in rules.faults:
        console.print(str(fault), soft_wrap=True)
        structlog.get_logger("pack").warning("broken condition", fault=str(fault))
    if rules.faults:
        console.print(f"{len(rules.faults)} broken, shown as UNKNOWN; the rest of the pack runs")


async def _watch(
    floor: Floor,
    port: int,
    page: str,
    key_file: Path | None,
    ways: Sequence[Notifier],
    voice: Voice | None,
    kept: Keeping,
    console: Console,
    *,
    live: bool,
) -> None:
    rigs = list(floor.rigs.values())
    with stop_asked() as asked:
        async with (
            door(floor.answer, port) as opened,
            paged(floor, page, key_file, console, kept.store),
            telling(floor, ways, console, follow=not live),
            speaking(rigs[0], voice),
            keeping(rigs, kept, console),
        ):
            if not live:
                for rig in rigs:
                    _tell_in_lines(rig, console, asked, named=len(rigs) > 1)
            where = ", ".join(rig.run.address for rig in rigs)
            console.print(
                f"watching {where}; calls are taken at port {opened}\n{SHORT_CAUTION}", soft_wrap=True
            )
            over = asyncio.Event().wait() if live else played(rigs)
            draw = rigs[0].draw if live else None
            await run_until([rig.run for rig in rigs], unless(asked, over), draw, console)


def _tell_in_lines(rig: Rig, console: Console, asked: asyncio.Event, *, named: bool) -> None:
    """Print what the core says, and what becomes of the link; nobody reading ends the watch."""
    lines = Lines(console, rig.pack, asked.set, rig.id if named else "")
    changes = Changes(lines.link)
    rig.listen(lines)
    rig.run.beats.append(lambda: changes.look(rig.reception()))
