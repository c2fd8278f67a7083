"""`holdshort call`, `confirm`, `excuse`, `retract`, `amend` and `play`: a word to a running `watch`.

Takes: what is said and by whom; for `amend` a trip sheet.  Gives: the watch's answer; exit code 0 done, 1 refused, 2 nobody there.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, NoReturn

import typer

from bridge.control import PORT, Reply, Request, ask
from bridge.loop import run
from rules.packs.trip import load_trip

By = Annotated[str, typer.Option("--by", help="Who says it: a seat, ground, atc, cabin, instructor.")]
Door = Annotated[int, typer.Option("--door", help="The port at which the watch answers.", min=1, max=65535)]


def call(
    name: Annotated[str, typer.Argument(help="The call, as the pack names it, such as push_approved.")],
    by: By = "",
    door: Door = PORT,
) -> None:
    """Enter a call (a clearance, a briefing done) into a running watch."""
    _finish(run(ask(Request("call", name, by), door)))


def confirm(
    item: Annotated[str, typer.Argument(help="The item, by its whole id, such as flow.preflight.documents.")],
    by: By = "",
    door: Door = PORT,
) -> None:
    """Confirm an item that no signal can show, in a running watch."""
    _finish(run(ask(Request("confirm", item, by), door)))


def excuse(
    item: Annotated[str, typer.Argument(help="The item, by its whole id.")],
    reason: Annotated[str, typer.Option("--reason", help="Why it does not count on this flight.")],
    by: By = "instructor",
    door: Door = PORT,
) -> None:
    """Excuse an item with a reason, in a running watch."""
    _finish(run(ask(Request("excuse", item, by, reason), door)))


def retract(
    name: Annotated[str, typer.Argument(help="The call, as the pack names it.")],
    by: By = "",
    door: Door = PORT,
) -> None:
    """Take the latest making of a call back, in a running watch, as if it had not been made."""
    _finish(run(ask(Request("retract", name, by), door)))


def amend(
    file: Annotated[
        Path, typer.Argument(help="The trip sheet as it is now; values that stay may be left out.")
    ],
    by: By = "",
    door: Door = PORT,
) -> None:
    """Hand amended papers to a running watch; what reads them is to be checked again."""
    load_trip(file)
    text = file.read_text(encoding="utf-8-sig")
    _finish(run(ask(Request("amend", file.name, by, text), door)))


def play(
    how: Annotated[
        str,
        typer.Argument(help="on, stop, a time (0:10:00, +60, -60), or a speed (x4).", metavar="HOW"),
    ] = "on",
    door: Door = PORT,
) -> None:
    """Turn a recording that a running watch plays: on, stop, another place, another speed."""
    if how in ("on", "stop"):
        _finish(run(ask(Request("play" if how == "on" else "stop", ""), door)))
    if how.startswith("x"):
        _finish(run(ask(Request("speed", how[1:]), door)))
    _finish(run(ask(Request("seek", how), door)))


def _finish(reply: Reply) -> NoReturn:
    typer.echo(reply.text, err=not reply.done)
    raise typer.Exit(0 if reply.done else 1)
