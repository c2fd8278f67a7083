"""The command line `holdshort` with all its commands.

Exit codes of every command: 0 success, 1 something is open or was refused, 2 bad input.

Takes: the command line.  Gives: the command's output and the exit code.
"""

from __future__ import annotations

import sys

import typer

from bridge.commands import (
    check,
    debrief,
    demo,
    judge,
    mock,
    privacy,
    rejudge,
    requests_to_watch,
    trends,
    watch,
)
from bridge.common.caution import SHORT_CAUTION
from rules.faults import HoldshortError

app = typer.Typer(
    name="holdshort",
    help=f"Reports open items before each phase of a simulated flight.\n\n{SHORT_CAUTION}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("demo")(demo.demo)
app.command("watch")(watch.watch)
app.command("judge")(judge.judge)
app.command("rejudge")(rejudge.rejudge)
app.command("debrief")(debrief.debrief)
app.command("trends")(trends.trends)
app.command("sessions")(trends.sessions)
app.add_typer(privacy.person, name="person")
app.command("retention")(privacy.retention)
app.command("prune")(privacy.prune_command)
app.command("mock")(mock.mock)
app.command("call")(requests_to_watch.call)
app.command("confirm")(requests_to_watch.confirm)
app.command("waive")(requests_to_watch.waive)
app.command("undo-call")(requests_to_watch.undo_call)
app.command("amend")(requests_to_watch.amend)
app.command("playback")(requests_to_watch.playback)
app.command("check")(check.check)


def main() -> None:
    """Run a command; print a fault of the input on standard error and exit with 2."""
    try:
        app()
    except HoldshortError as error:
        print(error, file=sys.stderr)  # noqa: T201 - the program prints its own faults
        sys.exit(2)
