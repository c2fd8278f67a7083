"""`holdshort watch`: watch a simulator and show the crew the open items before each phase.

A failed link is opened again without limit.  Ctrl-C or SIGTERM ends the watch with a summary and exit code 0,
or 3 where records could not be written: they are then on standard error, each as JSON.

Takes: a pack, a trip sheet, a link and a map file; or a device file.  Gives: a page and a live view (or lines),
until it is stopped.
"""

from __future__ import annotations

import asyncio
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Annotated

import structlog
import typer
from rich.console import Console

from adapters.decoders.base import FORMATS
from adapters.mapping.load_map import load_map
from bridge.commands.options import (
    DataDirOption,
    KeyFileOption,
    NotifyOption,
    PageOption,
    RecordingsLimitOption,
    SpeakOption,
    StoreOption,
    faulty_conditions_text,
    naming,
)
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.outputs.notifiers.base import Notifier
from bridge.outputs.notifiers.device_notifiers import notify_from_devices
from bridge.outputs.notifiers.factory import make_notifiers
from bridge.outputs.voice.device_speech import require_voice, speak_for_device
from bridge.outputs.voice.engines import Voice
from bridge.page.address import DEFAULT_ADDRESS
from bridge.page.announce import serve_and_announce
from bridge.privacy.prune_at_start import pruning
from bridge.recording.playback_device import SCHEME, Playback
from bridge.recording.replay_receiver import wait_until_played
from bridge.runtime.control import DEFAULT_PORT, open_control_port
from bridge.runtime.device import Device, build_device
from bridge.runtime.device_events import RunnerTicked
from bridge.runtime.device_file import load_devices
from bridge.runtime.event_loop import run_async
from bridge.runtime.logging_setup import logging_to
from bridge.runtime.registry import DeviceRegistry
from bridge.runtime.shutdown import run_unless_stopped, stop_on_signal
from bridge.session.input_signals import input_signals
from bridge.session.request_handlers import MAX_NAME_LENGTH, clean_text
from bridge.store.persistence import (
    DEFAULT_RECORDINGS_LIMIT_GB,
    PersistOptions,
    persist_sessions,
    resolve_persist_options,
)
from bridge.terminal.console import make_console
from bridge.terminal.console_log import ConsoleLog
from bridge.terminal.link_changes import LinkChangeLog
from bridge.terminal.live_loop import run_with_screen
from bridge.terminal.live_view import render_device
from bridge.terminal.summary import print_sessions, was_judged
from rules.faults import Fault, InputFaults, Place
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet

DEFAULT_FORMAT = "msgpack"
RECORDS_LOST = 3
"""Exit code where neither the disk nor the store has all that was judged."""
EXAMPLE = "holdshort watch --pack twin_jet --trip FILE --link udp://127.0.0.1:5139"
EXPECTED_VALUES = {
    "--pack": "a pack's name or folder",
    "--trip": "the file of a trip sheet",
    "--link": "udp://, tcp://, tcp-listen:// or zmq://HOST:PORT, or recording:PATH",
}
"""What is expected after each option that a watch needs."""


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
    wire_format: Annotated[
        str, typer.Option("--format", help=f"Wire format, if no map is given: {', '.join(FORMATS)}.")
    ] = DEFAULT_FORMAT,
    peer: Annotated[
        list[str] | None,
        typer.Option("--peer", metavar="ADDRESS", help="Address of another computer that may send."),
    ] = None,
    devices: Annotated[
        Path | None, typer.Option("--devices", help="Instead of these: a device file of several simulators.")
    ] = None,
    control_port: Annotated[
        int,
        typer.Option(
            "--control-port", metavar="PORT", help="Control port; 0 is any free port.", min=0, max=65535
        ),
    ] = DEFAULT_PORT,
    page: PageOption = DEFAULT_ADDRESS,
    key_file: KeyFileOption = None,
    notify: NotifyOption = None,
    speak: SpeakOption = False,
    data_dir: DataDirOption = "",
    recordings_limit_gb: RecordingsLimitOption = DEFAULT_RECORDINGS_LIMIT_GB,
    store: StoreOption = "",
    course: Annotated[
        str, typer.Option("--course", metavar="NAME", help="Course of the sessions, for the trends.")
    ] = "",
    headless: Annotated[bool, typer.Option("--headless", help="Lines instead of a live view.")] = False,
    log: Annotated[Path | None, typer.Option("--log", help="Write the log here, as JSON lines.")] = None,
) -> None:
    """Watch a simulator and show the open items.

    Ctrl-C ends it with a summary.
    """
    if devices is not None:
        form = "" if wire_format == DEFAULT_FORMAT else wire_format
        given = {"pack": pack, "trip": trip, "link": link, "map": map_name, "format": form, "peer": peer}
        registry = _registry_from_file(devices, given)
    else:
        registry = DeviceRegistry([_device_from_options(pack, trip, link, map_name, wire_format, peer or ())])
    ways = make_notifiers(notify or ())
    voice = require_voice(registry) if speak else None
    persist = resolve_persist_options(data_dir, recordings_limit_gb, store)
    for device in registry.devices.values():
        device.session.course = clean_text("--course", course, MAX_NAME_LENGTH) if course else ""
    console = make_console()
    live = (
        console.is_terminal and not console.is_dumb_terminal and not headless and len(registry.devices) == 1
    )
    lost = 0
    with logging_to(log, quiet=True):
        for device in registry.devices.values():
            _print_faults(console, device.pack)
        with suppress(KeyboardInterrupt):  # Ctrl-C, if the loop cannot handle signals
            lost = run_async(
                _run_watch(registry, control_port, page, key_file, ways, voice, persist, console, live=live)
            )
    for device in registry.devices.values():
        if len(registry.devices) > 1:
            console.print(f"\n{device.title}", style="bold")
        print_sessions(console, device)
    if not any(was_judged(device) for device in registry.devices.values()):
        raise typer.Exit(1)  # nothing was received
    if lost:
        raise typer.Exit(RECORDS_LOST)


def _device_from_options(
    pack: str, trip: Path | None, link: str, map_name: str, form: str, peers: Collection[str]
) -> Device:
    """Build the device that the options describe."""
    if link.startswith(SCHEME):
        return Playback(link, pack, _load_trip(trip) if trip else None).device
    if not pack or trip is None or not link:
        raise InputFaults(_missing_options({"--pack": pack, "--trip": trip, "--link": link}))
    trip_sheet = _load_trip(trip)
    rules = load_pack(pack, trip=trip_sheet)
    with naming("--map"):
        map_file = load_map(map_name, input_signals(rules)) if map_name else None
    return build_device(rules, trip_sheet, link, wire_format=form, map_file=map_file, peers=peers)


def _load_trip(trip: Path) -> TripSheet:
    with naming("--trip"):
        return load_trip_sheet(trip)


def _missing_options(given: Mapping[str, object]) -> list[Fault]:
    """Make a fault for each option that is missing; the last one also names `--devices`."""
    missing = [name for name, value in given.items() if not value]
    hints = dict.fromkeys(missing, EXAMPLE)
    hints[missing[-1]] += "\n    several simulators: holdshort watch --devices FILE"
    return [
        Fault(Place("watch"), f"{name} is not given", EXPECTED_VALUES[name], hints[name]) for name in missing
    ]


def _registry_from_file(devices: Path, given: Mapping[str, object]) -> DeviceRegistry:
    """Build the devices of a file; it replaces the other options."""
    both = [f"--{name}" for name, value in given.items() if value]
    if both:
        raise InputFaults(
            [Fault(Place(name), "the device file contains this", "one or the other") for name in both]
        )
    with naming("--devices"):
        return DeviceRegistry(load_devices(devices))


def _print_faults(console: Console, rules: Pack) -> None:
    """Print the faults of conditions; the other conditions work."""
    for fault in rules.faults:
        console.print(str(fault), soft_wrap=True)
        structlog.get_logger("pack").warning("broken condition", fault=str(fault))
    if rules.faults:
        console.print(f"{faulty_conditions_text(len(rules.faults))}; the other conditions work")


async def _run_watch(
    registry: DeviceRegistry,
    port: int,
    page: str,
    key_file: Path | None,
    notifiers: Sequence[Notifier],
    voice: Voice | None,
    persist: PersistOptions,
    console: Console,
    *,
    live: bool,
) -> int:
    """Watch until stopped; return how many records neither the disk nor the store has."""
    devices = list(registry.devices.values())
    with stop_on_signal() as stop:
        async with (
            open_control_port(registry.handle, port) as opened,
            serve_and_announce(registry, page, key_file, console, persist.store_url),
            notify_from_devices(registry, notifiers, console, follow=not live),
            speak_for_device(devices[0], voice),
            persist_sessions(devices, persist, console) as outcome,
            pruning(persist, enabled=any(device.playback_control is None for device in devices)),
        ):
            if not live:
                for device in devices:
                    _log_to_console(device, console, stop, named=len(devices) > 1)
            where = ", ".join(device.source.address for device in devices)
            console.print(f"watching {where}; control port {opened}\n{SHORT_DISCLAIMER}", soft_wrap=True)
            over = asyncio.Event().wait() if live else wait_until_played(devices)
            draw = partial(render_device, devices[0]) if live else None
            await run_with_screen(
                [device.runner for device in devices], run_unless_stopped(stop, over), draw, console
            )
    return outcome.lost


def _log_to_console(device: Device, console: Console, stop: asyncio.Event, *, named: bool) -> None:
    """Print events and changes of the link; a closed output ends the watch."""
    lines = ConsoleLog(console, device.pack, stop.set, device.id if named else "")
    changes = LinkChangeLog(lines.print_link)
    device.bus.subscribe(lines, *ConsoleLog.EVENTS)
    device.bus.subscribe(lambda _: changes.update(device.link_report()), RunnerTicked)
