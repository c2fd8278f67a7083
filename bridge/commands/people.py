"""`holdshort person list | export | erase`, `holdshort retain` and `holdshort tidy`: what is kept of people, and for how long.

Takes: a pseudonym, or days.  Gives: lists, a JSON document; less in the store.  Exit codes: 0 done, 1 not done because it was not
confirmed, 2 bad input.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, NamedTuple

import msgspec
import typer
from sqlalchemy import Engine

from bridge.commands.keeping import BUDGET_GB, KeepAt, StoreAt, keeping_for
from bridge.commands.progress import progress
from bridge.keep import Keep
from bridge.people.erasing import UNREACHED, Erased, erase
from bridge.people.export import export, persons
from bridge.people.forgetting import forget
from bridge.people.retention import LONGEST_DAYS, Tidied, keep_days, kept_days, tidy, too_old
from bridge.screen import console_for
from bridge.store.opening import open_store, reading, writing
from rules.faults import Fault, InputFaults, Place

FOR_EVER = "for-ever"
MOST = "--even-most"
ABOUT = "What is kept of people: pseudonyms. Please give no real names to seats, and write none in remarks."
TROUBLE = "the database has not given up the space in which it stood ({}); run this again later"
Yes = Annotated[bool, typer.Option("--yes", help="Do it without asking.")]
Most = Annotated[bool, typer.Option(MOST, help="Do it though more sessions go than stay.")]
person = typer.Typer(no_args_is_help=True, help=ABOUT)


class Where(NamedTuple):
    """The folder in which things are kept, and the store's address."""

    keep: Keep
    store: str


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
    _write(to, text + "\n")
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
        words = "is to be erased from the store and from recordings; that cannot be undone."
        _sure(f"{pseudonym} {words}", yes=yes)
        with progress() as hears:
            erased = erase(pseudonym, engine, what.keep, what.store, lambda m, of: hears("looking", m, of))
    for line in _said(pseudonym, erased):
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    console.print(UNREACHED, style="dim", highlight=False, soft_wrap=True)
    if erased.trouble:
        raise typer.Exit(1)


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


def clear(*, yes: Yes = False, most: Most = False, keep: KeepAt = "", store: StoreAt = "") -> None:
    """Remove what is older than sessions are kept, with its recordings."""
    console = console_for()
    now_utc = time.time()
    with _opened(keep, store) as (engine, what):
        with reading(engine) as connection:
            old = too_old(connection, what.keep, now_utc)
        console.print(_tidied(old, now_utc), highlight=False, soft_wrap=True)
        if not old.sessions:
            return
        if old.doubtful and yes and not most:
            console.print(f"more would go than stay: add {MOST} if that is meant", highlight=False)
            raise typer.Exit(1)
        _sure("That cannot be undone.", yes=yes)
        old = tidy(engine, what.keep, now_utc, even_most=True)
        trouble = forget(engine)
    for stem in old.stuck:
        console.print(f"not removed, nor its session: recording {stem}", highlight=False, markup=False)
    if trouble:
        console.print(TROUBLE.format(trouble), highlight=False, markup=False, soft_wrap=True)
    if old.stuck or trouble:
        raise typer.Exit(1)
    console.print("removed")


@contextmanager
def _opened(keep: str, store: str) -> Iterator[tuple[Engine, Where]]:
    """The store that these options mean.

    Raises:
        InputFaults: nothing is kept.
        StoreError: it cannot be reached.
    """
    what = keeping_for(keep, BUDGET_GB, store)
    if what.keep is None:
        raise InputFaults([Fault(Place("--keep"), "nothing is kept here", "a folder")])
    engine = open_store(what.store)
    try:
        yield engine, Where(what.keep, what.store)
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


def _said(pseudonym: str, erased: Erased) -> Iterator[str]:
    """Lines on what was erased, and on what was not."""
    yield (
        f"{pseudonym} is erased: {_counted(erased.sessions, 'session')} and {_counted(erased.findings, 'finding')} "
        f"without a person now, {_counted(erased.texts, 'text')} and {_counted(len(erased.rewritten), 'recording')} overwritten"
    )
    for stem in erased.removed:
        yield f"removed, since it could not be written without the name: recording {stem}"
    for stem in erased.unread:
        yield f"not read to its end, and left as it is: recording {stem}"
    for session in erased.open:
        yield f"session {session} has not ended in the store: where it is still watched, erase again after its end"
    if erased.trouble:
        yield TROUBLE.format(erased.trouble)


def _tidied(old: Tidied, now_utc: float) -> str:
    if old.days is None:
        return "sessions are kept for ever; say for how many days with: holdshort retain DAYS"
    now = datetime.fromtimestamp(now_utc, UTC)
    return (
        f"older than {_counted(old.days, 'day')} on {now:%Y-%m-%d}: {_counted(len(old.sessions), 'session')} with "
        f"{_counted(len(old.recordings), 'recording')}; {_counted(old.stay, 'session')} that ended would stay"
    )


def _write(path: Path, text: str) -> None:
    """Write a file that only its owner can read.

    Raises:
        InputFaults: it cannot be written.
    """
    try:
        with os.fdopen(
            os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8"
        ) as out:
            out.write(text)
    except OSError as error:
        what = f"this cannot be written ({error.strerror or error})"
        raise InputFaults([Fault(Place(str(path)), what)]) from None


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
