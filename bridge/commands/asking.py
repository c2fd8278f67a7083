"""`holdshort call`, `confirm` and `excuse`: a word to a running `watch`.

Takes: what is said and by whom.  Gives: the watch's answer; exit code 0 done, 1 refused, 2 nobody there.
"""

from __future__ import annotations

from typing import Annotated

import typer

from bridge.control import PORT, Reply, Request, ask
from bridge.loop import run

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


def _finish(reply: Reply) -> None:
    typer.echo(reply.text, err=not reply.done)
    raise typer.Exit(0 if reply.done else 1)
