"""`holdshort call`, `waive`, `undo-waiver`, `amend`, `playback` and so on: send one request to a running `watch`.

Takes: the request's name and author; for `amend` a trip sheet.  Gives: the reply; exit code 0 accepted, 1 refused,
2 no watch.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from bridge.commands.options import ByOption, ControlPortOption, naming
from bridge.runtime.control import DEFAULT_PORT, send_request
from bridge.runtime.event_loop import run_async
from bridge.session.requests import Reply, Request, Verb

_PLAYBACK_WORDS: Mapping[str, Verb] = {"start": "playback_start", "pause": "playback_pause"}


def call(
    name: Annotated[str, typer.Argument(help="The call, as the pack names it, such as push_approved.")],
    by: ByOption = "",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Enter a call (a clearance, a completed briefing)."""
    _exit_with(run_async(send_request(Request("call", name, by), control_port)))


def confirm(
    item: Annotated[
        str, typer.Argument(help="The item by its full id, flow.FLOW.ITEM; its pack has it with `confirm:`.")
    ],
    by: ByOption = "",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Confirm an item that no signal shows."""
    _exit_with(run_async(send_request(Request("confirm", item, by), control_port)))


def waive(
    item: Annotated[str, typer.Argument(help="The item by its full id, such as flow.before_start.beacon.")],
    reason: Annotated[str, typer.Option("--reason", help="Why the item does not count on this flight.")],
    by: ByOption = "instructor",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Waive an item for this flight, with a reason."""
    _exit_with(run_async(send_request(Request("waive", item, by, reason), control_port)))


def undo_waiver(
    item: Annotated[str, typer.Argument(help="The waived item by its full id.")],
    reason: Annotated[str, typer.Option("--reason", help="Why the item is judged again.")] = "",
    by: ByOption = "instructor",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Undo the waiver of an item: it is judged again."""
    _exit_with(run_async(send_request(Request("undo_waiver", item, by, reason), control_port)))


def undo_call(
    name: Annotated[str, typer.Argument(help="The call, as the pack names it.")],
    by: ByOption = "",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Undo the latest call of this name, within 10 s."""
    _exit_with(run_async(send_request(Request("undo_call", name, by), control_port)))


def amend(
    file: Annotated[
        Path, typer.Argument(help="The trip sheet as it is now; values that stay may be left out.")
    ],
    by: ByOption = "",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Send an updated trip sheet.

    Items that use a changed value must be checked again.
    """
    from rules.packs.trip_sheet import load_trip_sheet

    with naming("FILE"):
        load_trip_sheet(file)
    text = file.read_text(encoding="utf-8-sig")
    _exit_with(run_async(send_request(Request("amend", file.name, by, text), control_port)))


def playback(
    how: Annotated[
        str,
        typer.Argument(help="start, pause, a time (0:10:00, +60, -60), or a speed (x4).", metavar="HOW"),
    ] = "start",
    control_port: ControlPortOption = DEFAULT_PORT,
) -> None:
    """Control the playback of a recording.

    The recording plays in a running watch; start, pause, seek, speed.
    """
    if how in _PLAYBACK_WORDS:
        _exit_with(run_async(send_request(Request(_PLAYBACK_WORDS[how], ""), control_port)))
    if how.startswith("x"):
        _exit_with(run_async(send_request(Request("playback_speed", how[1:]), control_port)))
    _exit_with(run_async(send_request(Request("playback_seek", how), control_port)))


def _exit_with(reply: Reply) -> NoReturn:
    typer.echo(reply.text, err=not reply.accepted)
    raise typer.Exit(0 if reply.accepted else 1)
