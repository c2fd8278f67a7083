"""`holdshort person list | export | erase`, `holdshort retain` and `holdshort tidy`: what is kept of people, and for how long.

Takes: a pseudonym, or days.  Gives: lists, a JSON document; less in the store.  Exit codes: 0 done, 1 not done because it was not
confirmed, 2 bad input.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import msgspec
import typer
from sqlalchemy import Engine

from bridge.commands.keeping import KeepAt, Keeping, StoreAt, keeping_for
from bridge.commands.progress import progress
from bridge.people.erasing import UNREACHED, Erased, erase
from bridge.people.export import export, persons
from bridge.people.retention import LONGEST_DAYS, Tidied, keep_days, kept_days, tidy, too_old
from bridge.screen import console_for
from bridge.store.opening import open_store, reading, writing
from rules.faults import Fault, InputFaults, Place

FOR_EVER = "for-ever"
Yes = Annotated[bool, typer.Option("--yes", help="Do it without asking.")]
person = typer.Typer(no_args_is_help=True, help="What is kept of people: pseudonyms, never real names.")


@person.command("list")
def list_persons(*, keep: KeepAt = "", store: StoreAt = "") -> None:
    """List the pseudonyms, with their sessions and findings."""
    console = console_for()
    with _opened(keep, store) as (engine, _), reading(engine) as connection:
        known = persons(connection)
    for name, sessions, findings in known:
        console.print(
            f"{name}: {_counted(sessions, 'session')}, {_counted(findings, 'finding')}", highlight=False
        )
    if not known:
        console.print("nobody is known")


@person.command("export")
def export_person(
    pseudonym: Annotated[str, typer.Argument(help="Who.")],
    *,
    to: Annotated[Path | None, typer.Option("--to", help="The file; on the screen if not given.")] = None,
    keep: KeepAt = "",
    store: StoreAt = "",
) -> None:
    """Give out everything that is kept of one person, as JSON."""
    with _opened(keep, store) as (engine, _), reading(engine) as connection:
        found = export(connection, pseudonym)
    text = msgspec.json.format(msgspec.json.encode(found), indent=1).decode()
    if to is None:
        typer.echo(text)
        return
    try:
        to.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise InputFaults(
            [Fault(Place(str(to)), f"this cannot be written ({error.strerror or error})")]
        ) from None
    console_for().print(
        f"{pseudonym}: {_counted(len(found['sessions']), 'session')} in {to}", highlight=False
    )


@person.command("erase")
def erase_person(
    pseudonym: Annotated[str, typer.Argument(help="Who.")],
    *,
    yes: Yes = False,
    keep: KeepAt = "",
    store: StoreAt = "",
) -> None:
    """Erase one person; what was found stays, without them."""
    console = console_for()
    with _opened(keep, store) as (engine, what):
        _sure(
            f"{pseudonym} is to be erased from the store and from recordings; that cannot be undone.", yes=yes
        )
        with progress() as hears:
            erased = erase(
                pseudonym, engine, what.keep, what.store, lambda more, of: hears("looking", more, of)
            )
    console.print(_said(pseudonym, erased), highlight=False, soft_wrap=True)
    console.print(UNREACHED, style="dim", highlight=False)


def retain(
    days: Annotated[
        str, typer.Argument(help=f"How many days sessions are kept, or {FOR_EVER}; shown if not given.")
    ] = "",
    *,
    keep: KeepAt = "",
    store: StoreAt = "",
) -> None:
    """Say for how long sessions are kept."""
    console = console_for()
    with _opened(keep, store) as (engine, _):
        if days:
            with writing(engine) as connection:
                keep_days(connection, _days(days))
        with reading(engine) as connection:
            now = kept_days(connection)
    words = f"for {_counted(now, 'day')} after they ended" if now is not None else "for ever"
    console.print(f"sessions are kept {words}", highlight=False)


def clear(*, yes: Yes = False, keep: KeepAt = "", store: StoreAt = "") -> None:
    """Remove what is older than sessions are kept, with its recordings."""
    console = console_for()
    with _opened(keep, store) as (engine, what):
        with reading(engine) as connection:
            old = too_old(connection, what.keep, time.time())
        console.print(_tidied(old), highlight=False)
        if not old.sessions:
            return
        _sure("That cannot be undone." + (" No session would be left." if old.all_of_them else ""), yes=yes)
        tidy(engine, what.keep, time.time(), all_of_them=True)
    console.print("removed")


@contextmanager
def _opened(keep: str, store: str) -> Iterator[tuple[Engine, Keeping]]:
    """The store that these options mean.

    Raises:
        InputFaults: nothing is kept.
        StoreError: it cannot be reached.
    """
    what = keeping_for(keep, 1.0, store)
    if not what.store:
        raise InputFaults([Fault(Place("--keep"), "nothing is kept here", "a folder")])
    engine = open_store(what.store)
    try:
        yield engine, what
    finally:
        engine.dispose()


def _sure(words: str, *, yes: bool) -> None:
    """Ask, unless that was answered already."""
    if not yes and not typer.confirm(f"{words} Do it?", default=False):
        typer.echo("nothing was done")
        raise typer.Exit(1)


def _days(said: str) -> int | None:
    if said == FOR_EVER:
        return None
    if not said.isdecimal() or not 1 <= int(said) <= LONGEST_DAYS:
        expected = f"1 to {LONGEST_DAYS} days, or {FOR_EVER}"
        raise InputFaults([Fault(Place("DAYS"), f"{said} is no number of days", expected)])
    return int(said)


def _said(pseudonym: str, erased: Erased) -> str:
    return (
        f"{pseudonym} is erased: {_counted(erased.sessions, 'session')}, {_counted(erased.findings, 'finding')} without a person now, "
        f"{_counted(erased.texts, 'text')} and {_counted(len(erased.recordings), 'recording')} overwritten"
    )


def _tidied(old: Tidied) -> str:
    if old.days is None:
        return "sessions are kept for ever; say for how many days with: holdshort retain DAYS"
    return f"older than {_counted(old.days, 'day')}: {_counted(len(old.sessions), 'session')}, {_counted(len(old.recordings), 'recording')}"


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
