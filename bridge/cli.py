"""The command line: `holdshort demo`, `watch`, `judge`, `debrief`, `trends`, `mock`, `call`, `check`.

Exit codes everywhere: 0 well, 1 something is open or was not done, 2 bad input.

Takes: the command line.  Gives: the exit code, after doing what it says.
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
    help=f"Says, before each phase of a simulated flight, what is not as it must be.\n\n{SHORT_CAUTION}",
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
    """Run a command; what is wrong with the input is said on standard error, and the exit code is 2."""
    try:
        app()
    except HoldshortError as error:
        print(error, file=sys.stderr)  # noqa: T201 - this is the program's own voice
        sys.exit(2)
