"""`holdshort person`, `retention` and `prune`: data of persons, and how long sessions are stored.

Takes: a pseudonym, or days.  Gives: lists, or a JSON document; removed data.  Exit codes: 0 done, 1 not done because it was not
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

from bridge.commands.options import ALLOW_MOST, AllowMostOption, DataDirOption, StoreOption, YesOption
from bridge.privacy.erasure import NOT_REACHED, ErasureReport, erase
from bridge.privacy.export import count_by_person, export_person_data
from bridge.privacy.retention import (
    MAX_DAYS,
    PruneReport,
    find_expired,
    prune,
    retention_days,
    set_retention_days,
)
from bridge.privacy.vacuum import run_vacuum
from bridge.runtime.data_dir import DataDir
from bridge.store.database import open_store, read_transaction, write_transaction
from bridge.store.persistence import DEFAULT_RECORDINGS_LIMIT_GB, resolve_persist_options
from bridge.terminal.console import make_console
from bridge.terminal.progress_bar import progress_bar
from rules.faults import Fault, InputFaults, Place
from rules.words import count_in_digits

FOREVER = "forever"
PERSON_HELP = "List, export or erase the data of a person. Please give no real names to seats, and write none in remarks."
VACUUM_FAILED = "the database has not given up the space in which it stood ({}); run this again later"
person = typer.Typer(no_args_is_help=True, help=PERSON_HELP)


class StoreLocation(NamedTuple):
    """The data folder and the address of the store."""

    data_dir: DataDir
    store_url: str


@person.command("list")
def list_persons(*, data_dir: DataDirOption = "", store: StoreOption = "") -> None:
    """List the pseudonyms, with their sessions and findings."""
    console = make_console()
    with _open_store(data_dir, store) as (engine, _), read_transaction(engine) as connection:
        known = count_by_person(connection)
    for name, sessions, errors, doubts in known:
        rest = f", {doubts} not verifiable" if doubts else ""
        found = f"{count_in_digits(errors, 'finding')}{rest}"
        console.print(f"{name}: {count_in_digits(sessions, 'session')}, {found}", highlight=False)
    if not known:
        console.print("no person is stored")


@person.command("export")
def export_person(
    pseudonym: Annotated[str, typer.Argument(help="The pseudonym.")],
    *,
    to: Annotated[
        Path | None, typer.Option("--to", help="Output file; standard output if not given.")
    ] = None,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """Export all data of one person, as JSON."""
    with _open_store(data_dir, store) as (engine, _), read_transaction(engine) as connection:
        found = export_person_data(connection, pseudonym)
    text = msgspec.json.format(msgspec.json.encode(found), indent=1).decode()
    if to is None:
        typer.echo(text)
        return
    _write_private(to, text + "\n")
    make_console().print(
        f"{pseudonym}: {count_in_digits(len(found['sessions']), 'session')} in {to}", highlight=False
    )


@person.command("erase")
def erase_person(
    pseudonym: Annotated[str, typer.Argument(help="The pseudonym.")],
    *,
    yes: YesOption = False,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """Erase one person; the findings stay, without the person."""
    console = make_console()
    with _open_store(data_dir, store) as (engine, what):
        words = "will be erased from the store and from recordings; this cannot be undone."
        _confirm_or_exit(f"{pseudonym} {words}", yes=yes)
        with progress_bar() as on_progress:
            erased = erase(
                pseudonym, engine, what.data_dir, what.store_url, lambda m, of: on_progress("looking", m, of)
            )
    for line in _erase_report(pseudonym, erased):
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    console.print(NOT_REACHED, style="dim", highlight=False, soft_wrap=True)
    if erased.problem:
        raise typer.Exit(1)


def retention(
    days: Annotated[
        str, typer.Argument(help=f"Days that sessions are kept, or {FOREVER}; printed if not given.")
    ] = "",
    *,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """Set or show how long sessions are stored."""
    console = make_console()
    with _open_store(data_dir, store) as (engine, _):
        if days:
            with write_transaction(engine) as connection:
                set_retention_days(connection, _parse_days(days))
        with read_transaction(engine) as connection:
            now = retention_days(connection)
    words = f"for {count_in_digits(now, 'day')} after they ended" if now is not None else "without limit"
    console.print(f"sessions are kept {words}", highlight=False)


def prune_command(
    *,
    yes: YesOption = False,
    allow_most: AllowMostOption = False,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """Remove expired sessions with their recordings."""
    console = make_console()
    now_utc = time.time()
    with _open_store(data_dir, store) as (engine, what):
        with read_transaction(engine) as connection:
            old = find_expired(connection, what.data_dir, now_utc)
        console.print(_prune_report(old, now_utc), highlight=False, soft_wrap=True)
        if not old.sessions:
            return
        if old.removes_most and yes and not allow_most:
            console.print(f"more would go than stay: add {ALLOW_MOST} if that is meant", highlight=False)
            raise typer.Exit(1)
        _confirm_or_exit("That cannot be undone.", yes=yes)
        old = prune(engine, what.data_dir, now_utc, allow_most=True)
        trouble = run_vacuum(engine)
    for stem in old.not_removable:
        console.print(f"not removed, nor its session: recording {stem}", highlight=False, markup=False)
    if trouble:
        console.print(VACUUM_FAILED.format(trouble), highlight=False, markup=False, soft_wrap=True)
    if old.not_removable or trouble:
        raise typer.Exit(1)
    console.print("removed")


@contextmanager
def _open_store(data_dir: str, store: str) -> Iterator[tuple[Engine, StoreLocation]]:
    """Open the store that the options name.

    Raises:
        InputFaults: the data folder is off.
        StoreError: the store cannot be reached.
    """
    what = resolve_persist_options(data_dir, DEFAULT_RECORDINGS_LIMIT_GB, store)
    if what.data_dir is None:
        raise InputFaults([Fault(Place("--data-dir"), "the data folder is off", "a folder")])
    engine = open_store(what.store_url)
    try:
        yield engine, StoreLocation(what.data_dir, what.store_url)
    finally:
        engine.dispose()


def _confirm_or_exit(words: str, *, yes: bool) -> None:
    """Ask for confirmation unless `yes`."""
    if not yes and not typer.confirm(f"{words} Do it?", default=False):
        typer.echo("nothing was done")
        raise typer.Exit(1)


def _parse_days(text: str) -> int | None:
    if text == FOREVER:
        return None
    if not text.isdecimal() or not 1 <= int(text) <= MAX_DAYS:
        expected = f"1 to {MAX_DAYS} days, or {FOREVER}"
        raise InputFaults([Fault(Place("DAYS"), f"{text} is not a number of days", expected)])
    return int(text)


def _erase_report(pseudonym: str, erased: ErasureReport) -> Iterator[str]:
    """Describe the result of an erasure, line by line."""
    yield (
        f"{pseudonym} is erased: {count_in_digits(erased.sessions, 'session')} and {count_in_digits(erased.findings, 'finding')} "
        f"without a person now, {count_in_digits(erased.texts, 'text')} and {count_in_digits(len(erased.redacted), 'recording')} overwritten"
    )
    for stem in erased.removed:
        yield f"removed, since its name could not be redacted: recording {stem}"
    for stem in erased.unreadable:
        yield f"unreadable, left unchanged: recording {stem}"
    for session in erased.open_sessions:
        yield f"session {session} has not ended in the store: where it is still watched, erase again after its end"
    if erased.problem:
        yield VACUUM_FAILED.format(erased.problem)


def _prune_report(old: PruneReport, now_utc: float) -> str:
    if old.retention_days is None:
        return "sessions are kept without limit; set a limit with: holdshort retention DAYS"
    now = datetime.fromtimestamp(now_utc, UTC)
    return (
        f"older than {count_in_digits(old.retention_days, 'day')} on {now:%Y-%m-%d}: {count_in_digits(len(old.sessions), 'session')} with "
        f"{count_in_digits(len(old.recordings), 'recording')}; {count_in_digits(old.remaining, 'session')} that ended remain"
    )


def _write_private(path: Path, text: str) -> None:
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
        what = f"the file cannot be written ({error.strerror or error})"
        raise InputFaults([Fault(Place(str(path)), what)]) from None
