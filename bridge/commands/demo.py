"""`holdshort demo`: a whole demonstration on this machine, with a real sender on a real socket.

A second process flies (the mock aeroplane, or with `--real` the JSBSim library) and sends over UDP on loopback;
this one receives, judges, tells, and sums up what was caught and when.

Takes: nothing that has to be prepared.  Gives: a live view and a summary, or one JSON object.
"""

from __future__ import annotations

import asyncio
import socket
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer
from rich.console import Console

from adapters.mapping.load import load_map
from bridge.commands.keeping import BUDGET_GB, Budget, KeepAt, Keeping, StoreAt, keeping, keeping_for
from bridge.commands.paging import HERE, At, KeyFile, paged
from bridge.commands.telling import Tell, telling
from bridge.floor import Floor
from bridge.keep import OFF as KEEP_OFF
from bridge.live import run_until
from bridge.logs import logged
from bridge.loop import run
from bridge.notify.base import Notifier
from bridge.notify.choose import choose
from bridge.page.serve import OFF, parse_address
from bridge.rig import Rig, build_rig
from bridge.screen import SHORT_CAUTION, console_for
from bridge.sending import SenderError, run_sender
from bridge.stopping import stop_asked, unless
from bridge.summary import print_findings, print_slips
from mock_sim.stock.run import INSTALL, PACKS, available, command
from rules.faults import Fault, InputFaults, Place
from rules.packs.layers import SHIPPED
from rules.packs.load import load_pack
from rules.packs.trip import load_trip

ANYWHERE = "udp://127.0.0.1:0"
LINGER_S = 0.5
"""After the sender has ended: for the last datagrams and the holds that they begin."""


def demo(
    *,
    headless: Annotated[bool, typer.Option("--headless", help="No live view, only the summary.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object: slips, findings, notices.")
    ] = False,
    real: Annotated[
        bool, typer.Option("--real", help="Fly a stock twin jet of the JSBSim library instead.")
    ] = False,
    slip: Annotated[
        list[str] | None,
        typer.Option("--slip", metavar="ID", help="What goes wrong: ids, demo, all or none."),
    ] = None,
    speed: Annotated[float, typer.Option(help="Simulated seconds in a real one.", min=0.1, max=100)] = 25.0,
    seed: Annotated[int, typer.Option(help="Makes noise and the crew's pace.")] = 1,
    page: At = "",
    key_file: KeyFile = None,
    tell: Tell = None,
    keep: KeepAt = "",
    keep_at_most: Budget = BUDGET_GB,
    store: StoreAt = "",
    stay: Annotated[
        bool, typer.Option("--stay", help="After the flight go on serving the page until Ctrl-C.")
    ] = False,
) -> None:
    """A mock flight with a crew that makes mistakes, watched and summed up; under a minute."""
    console = console_for(stderr=as_json)
    live = console.is_terminal and not console.is_dumb_terminal and not headless and not as_json
    slips = [name for name in (slip or ["demo"]) if name != "none"]
    show = _real(slips, speed) if real else _mock(slips, speed, seed)
    with logged(None, quiet=True):
        kept = keeping_for(keep, keep_at_most, store, default=KEEP_OFF)
        told = _told(show, console, _Paging(page, key_file, choose(tell or ()), kept, stay=stay), live=live)
    if as_json:
        sys.stdout.write(
            msgspec.json.encode(told | show.rig.journal.as_dict() | show.facts()).decode() + "\n"
        )
        return
    console.print(f"\n{show.title}")
    print_slips(console, told["slips"], show.rig.journal, show.rig.pack)
    console.print()
    print_findings(console, show.rig.journal, show.rig.pack.seats)


@dataclass(frozen=True, slots=True)
class _Paging:
    """What the options say of the page and of other ways out."""

    at: str
    key_file: Path | None
    ways: Sequence[Notifier]
    kept: Keeping
    stay: bool


def _told(show: Show, console: Console, paging: _Paging, *, live: bool) -> dict[str, Any]:
    """Fly; where that does not come to its end, say so with what was found so far."""
    try:
        told, why, code = (
            run(_fly(show, console, paging, live=live)),
            "stopped before the end of the flight",
            1,
        )
    except SenderError as error:
        told, why, code = None, str(error), error.code
    if told is not None:
        return told
    if show.rig.journal.findings and not console.stderr:
        print_findings(console, show.rig.journal, show.rig.pack.seats)
    typer.echo(why, err=True)
    raise typer.Exit(code)


class Show:
    """What is flown and watched: the rig, and the command of the process that sends to a port."""

    def __init__(self, title: str, rig: Rig, command: list[str]) -> None:
        """Keep them; `{port}` in the command becomes the port of the open link."""
        self.title = title
        self.rig = rig
        self._command = command

    def command(self, port: int) -> list[str]:
        """The sender's command for this port."""
        return [part.replace("{port}", str(port)) for part in self._command]

    def facts(self) -> dict[str, Any]:
        """What else the JSON says."""
        return {
            "scenario": self.title,
            "link": self.rig.session.receiver.health.as_dict(),
            "caution": SHORT_CAUTION,
        }


def _mock(slips: list[str], speed: float, seed: int) -> Show:
    papers = load_trip(SHIPPED / "twin_jet" / "trip_demo.yaml")
    rig = build_rig(load_pack("twin_jet", trip=papers), papers, ANYWHERE)
    command = [
        sys.executable, "-m", "bridge", "mock", "--to", "udp://127.0.0.1:{port}", "--json",
        "--speed", str(speed), "--seed", str(seed), *(word for name in slips for word in ("--slip", name)),
    ]  # fmt: skip
    return Show("Lindmere 417, Port Averil runway 14: a mock aeroplane and its crew", rig, command)


def _real(slips: list[str], speed: float) -> Show:
    if not available():
        raise InputFaults([Fault(Place("--real"), "the JSBSim library is not installed", hint=INSTALL)])
    name, sheet, map_name = PACKS["jet"]
    papers = load_trip(SHIPPED / name / sheet)
    rules = load_pack(name, trip=papers)
    rig = build_rig(rules, papers, ANYWHERE, map_file=load_map(map_name, rules.signals))
    title = "Lindmere 417, our own scenario, flown by a stock twin jet of the JSBSim library"
    return Show(title, rig, command("jet", "{port}", speed, slips, ["--json"]))


async def _fly(show: Show, console: Console, paging: _Paging, *, live: bool) -> dict[str, Any] | None:
    """Receive, start the sender, and wait for its end; gives what the sender says of itself, None where stopped."""
    upkeep = show.rig.run.upkeep

    async def flight() -> dict[str, Any]:
        await upkeep.opened.wait()
        told = await run_sender(show.command(upkeep.port))
        await asyncio.sleep(LINGER_S)
        return told

    async def flight_and_after(asked: asyncio.Event) -> dict[str, Any] | None:
        told = await unless(asked, flight())
        if told is not None and paging.stay:
            console.print("the flight has ended; the page stays until Ctrl-C", soft_wrap=True)
            await asked.wait()
        return told

    floor = Floor([show.rig])
    with stop_asked() as asked:
        async with (
            paged(floor, paging.at or (_free() if live else OFF), paging.key_file, console),
            telling(floor, paging.ways, console, follow=not live),
            keeping([show.rig], paging.kept, console),
        ):
            draw = show.rig.draw if live else None
            return await run_until([show.rig.run], flight_and_after(asked), draw, console)


def _free() -> str:
    """Our port for the page, or any free one where another program has it."""
    try:
        with socket.create_server(parse_address(HERE)):
            return HERE
    except OSError:
        return "127.0.0.1:0"
