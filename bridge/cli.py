"""The command line `holdshort` with all its commands.

Exit codes of every command: 0 success, 1 something is open or was refused, 2 bad input, 3 records were lost.

Takes: the command line.  Gives: the command's output and the exit code.
"""

from __future__ import annotations

import sys
from importlib import metadata
from typing import Annotated

import typer

from bridge.commands.lazy_group import CommandRef, lazy_group
from bridge.common.disclaimer import SHORT_DISCLAIMER
from rules.compiled import HINT, changed_sources, is_compiled
from rules.faults import HoldshortError

COMMANDS = (
    CommandRef(
        "demo",
        "bridge.commands.demo:demo",
        "Watch a mock flight with mistakes, and sum up.",
    ),
    CommandRef("watch", "bridge.commands.watch:watch", "Watch a simulator and show the open items."),
    CommandRef("judge", "bridge.commands.judge:judge", "Judge a static state of the aeroplane at one gate."),
    CommandRef(
        "rejudge",
        "bridge.commands.rejudge:rejudge",
        "Judge a recording again and list differences.",
    ),
    CommandRef("debrief", "bridge.commands.debrief:debrief", "Write the debrief of a session."),
    CommandRef(
        "trends",
        "bridge.commands.trends:trends",
        "Show the items missed most, by gate.",
    ),
    CommandRef(
        "sessions", "bridge.commands.trends:sessions", "List the sessions that are stored, the newest last."
    ),
    CommandRef("retention", "bridge.commands.privacy:retention", "Set or show how long sessions are stored."),
    CommandRef(
        "prune", "bridge.commands.privacy:prune_command", "Remove expired sessions with their recordings."
    ),
    CommandRef("mock", "bridge.commands.mock:mock", "Fly the mock aeroplane and send its state."),
    CommandRef(
        "call", "bridge.commands.requests_to_watch:call", "Enter a call (a clearance, a completed briefing)."
    ),
    CommandRef(
        "confirm", "bridge.commands.requests_to_watch:confirm", "Confirm an item that no signal shows."
    ),
    CommandRef(
        "waive", "bridge.commands.requests_to_watch:waive", "Waive an item for this flight, with a reason."
    ),
    CommandRef(
        "undo-waiver",
        "bridge.commands.requests_to_watch:undo_waiver",
        "Undo the waiver of an item: it is judged again.",
    ),
    CommandRef(
        "undo-call",
        "bridge.commands.requests_to_watch:undo_call",
        "Undo the latest call of this name, within 10 s.",
    ),
    CommandRef(
        "amend",
        "bridge.commands.requests_to_watch:amend",
        "Send an updated trip sheet.",
    ),
    CommandRef(
        "playback",
        "bridge.commands.requests_to_watch:playback",
        "Control the playback of a recording.",
    ),
    CommandRef(
        "check",
        "bridge.commands.check:check",
        "Check a pack and list its faults.",
    ),
    CommandRef(
        "person",
        "bridge.commands.privacy:person",
        "List, export or erase the data of a person. Please give no real names to seats, and write none in remarks.",
    ),
)
"""Every command, in the order of the help; a command's module is imported when the command is used."""


def _program(
    *, version: Annotated[bool, typer.Option("--version", help="Show the version and exit.")] = False
) -> None:
    """Handle the options of the program itself."""
    if version:
        evaluator = "compiled" if is_compiled() else "interpreted"
        typer.echo(f"holdshort {metadata.version('holdshort')}, evaluator {evaluator}")
        raise typer.Exit


app = typer.Typer(
    name="holdshort",
    cls=lazy_group(COMMANDS),
    callback=_program,
    invoke_without_command=True,
    help=f"Reports open items before each phase of a simulated flight.\n\n{SHORT_DISCLAIMER}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def main() -> None:
    """Run a command; print a fault of the input on standard error and exit with 2."""
    changed = changed_sources()
    if changed:
        older = f"the compiled evaluator is older than {changed[0]}, and runs all the same"
        print(f"{older}\n  hint: {HINT}", file=sys.stderr)  # noqa: T201 - as the faults below
    try:
        app()
    except HoldshortError as error:
        print(error, file=sys.stderr)  # noqa: T201 - the program prints its own faults
        sys.exit(2)
