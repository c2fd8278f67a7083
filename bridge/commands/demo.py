"""`holdshort demo`: a complete demonstration on this machine, with a sender process and a UDP socket.

A second process flies (the mock aeroplane, or with `--real` the JSBSim library) and sends over UDP on loopback;
this one receives, judges, and sums up which slips were caught, and when.

Takes: options only.  Gives: a live view and a summary, or one JSON object.
"""

from __future__ import annotations

import asyncio
import socket
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer
from rich.console import Console

from bridge.commands.options import (
    DataDirOption,
    KeyFileOption,
    NotifyOption,
    PageOption,
    RecordingsLimitOption,
    StoreOption,
)
from bridge.demo.demo_flight import DemoFlight, jsbsim_flight, mock_flight
from bridge.demo.sender import SenderError, run_sender
from bridge.outputs.notifiers.base import Notifier
from bridge.outputs.notifiers.device_notifiers import notify_from_devices
from bridge.outputs.notifiers.factory import make_notifiers
from bridge.page.address import DEFAULT_ADDRESS, OFF
from bridge.page.announce import serve_and_announce
from bridge.page.serve import parse_address
from bridge.privacy.prune_at_start import pruning
from bridge.runtime.data_dir import OFF as KEEP_OFF
from bridge.runtime.event_loop import run_async
from bridge.runtime.logging_setup import logging_to
from bridge.runtime.registry import DeviceRegistry
from bridge.runtime.shutdown import run_unless_stopped, stop_on_signal
from bridge.store.persistence import (
    DEFAULT_RECORDINGS_LIMIT_GB,
    PersistOptions,
    persist_sessions,
    resolve_persist_options,
)
from bridge.terminal.console import make_console
from bridge.terminal.live_loop import run_with_screen
from bridge.terminal.live_view import render_device
from bridge.terminal.summary import print_findings, print_slips

LAST_DATAGRAMS_S = 0.5
"""Wait after the sender's end for the last datagrams, and for the conditions that must last."""


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
        typer.Option("--slip", metavar="ID", help="Slips of the crew: ids, demo, all or none."),
    ] = None,
    speed: Annotated[float, typer.Option(help="Simulated seconds in a real one.", min=0.1, max=100)] = 25.0,
    seed: Annotated[int, typer.Option(help="Makes noise and the crew's pace.")] = 1,
    page: PageOption = "",
    key_file: KeyFileOption = None,
    notify: NotifyOption = None,
    data_dir: DataDirOption = "",
    recordings_limit_gb: RecordingsLimitOption = DEFAULT_RECORDINGS_LIMIT_GB,
    store: StoreOption = "",
    stay: Annotated[
        bool, typer.Option("--stay", help="After the flight serve the page until Ctrl-C.")
    ] = False,
) -> None:
    """Watch a mock flight with mistakes, and sum up.

    The crew makes the mistakes; it takes under a minute.
    """
    console = make_console(stderr=as_json)
    live = console.is_terminal and not console.is_dumb_terminal and not headless and not as_json
    slips = [name for name in (slip or ["demo"]) if name != "none"]
    demo_flight = jsbsim_flight(slips, speed) if real else mock_flight(slips, speed, seed)
    with logging_to(None, quiet=True):
        persist = resolve_persist_options(data_dir, recordings_limit_gb, store, default=KEEP_OFF)
        report = _fly_or_exit(
            demo_flight,
            console,
            _DemoOptions(page, key_file, make_notifiers(notify or ()), persist, stay_after_flight=stay),
            live=live,
        )
    if as_json:
        sys.stdout.write(
            msgspec.json.encode(
                report | demo_flight.device.journal.as_dict() | demo_flight.json_fields()
            ).decode()
            + "\n"
        )
        return
    console.print(f"\n{demo_flight.title}")
    print_slips(console, report["slips"], demo_flight.device.journal, demo_flight.device.pack)
    console.print()
    print_findings(console, demo_flight.device.journal, demo_flight.device.pack)


@dataclass(frozen=True, slots=True)
class _DemoOptions:
    """Options of the page, the notifiers and the data folder."""

    page_address: str
    key_file: Path | None
    notifiers: Sequence[Notifier]
    persist: PersistOptions
    stay_after_flight: bool


def _fly_or_exit(
    demo_flight: DemoFlight, console: Console, options: _DemoOptions, *, live: bool
) -> dict[str, Any]:
    """Fly; if the flight does not end normally, print the findings so far and exit."""
    try:
        report, why, code = (
            run_async(_fly_and_watch(demo_flight, console, options, live=live)),
            "stopped before the end of the flight",
            1,
        )
    except SenderError as error:
        report, why, code = None, str(error), error.code
    if report is not None:
        return report
    if demo_flight.device.journal.findings and not console.stderr:
        print_findings(console, demo_flight.device.journal, demo_flight.device.pack)
    typer.echo(why, err=True)
    raise typer.Exit(code)


async def _fly_and_watch(
    demo_flight: DemoFlight, console: Console, options: _DemoOptions, *, live: bool
) -> dict[str, Any] | None:
    """Receive, start the sender, and wait for its end.

    Returns:
        The sender's result; None if stopped by a signal.
    """
    source = demo_flight.device.source

    async def flight() -> dict[str, Any]:
        await source.opened.wait()
        report = await run_sender(demo_flight.command(source.port))
        await asyncio.sleep(LAST_DATAGRAMS_S)
        return report

    async def flight_and_after(stop: asyncio.Event) -> dict[str, Any] | None:
        report = await run_unless_stopped(stop, flight())
        if report is not None and options.stay_after_flight:
            console.print("the flight has ended; the page stays until Ctrl-C", soft_wrap=True)
            await stop.wait()
        return report

    registry = DeviceRegistry([demo_flight.device])
    with stop_on_signal() as stop:
        async with (
            serve_and_announce(
                registry,
                options.page_address or (_free_page_address() if live else OFF),
                options.key_file,
                console,
            ),
            notify_from_devices(registry, options.notifiers, console, follow=not live),
            persist_sessions([demo_flight.device], options.persist, console),
            pruning(options.persist),
        ):
            draw = partial(render_device, demo_flight.device) if live else None
            return await run_with_screen([demo_flight.device.runner], flight_and_after(stop), draw, console)


def _free_page_address() -> str:
    """Choose the default port of the page, or any free port if that one is in use."""
    try:
        with socket.create_server(parse_address(DEFAULT_ADDRESS)):
            return DEFAULT_ADDRESS
    except OSError:
        return "127.0.0.1:0"
