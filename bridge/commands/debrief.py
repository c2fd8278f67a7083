"""`holdshort debrief`: one session as a page, on paper, and as tables.

Takes: a session: `last`, the beginning of its id, its name, or the path of its recording.  Gives: `debrief.html` and
`debrief.pdf` in a folder, with `--data` the tables of it as CSV, JSON and Parquet, with `--samples` every sample too; exit code 0,
or 2 where no such session was kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from sqlalchemy import Connection

from bridge.commands.keeping import KeepAt, StoreAt, keeping_for
from bridge.commands.progress import Hears, progress
from bridge.debrief.account import Account
from bridge.debrief.choosing import Chosen, choose
from bridge.debrief.gather import account_of_recording
from bridge.debrief.page import write_html, write_pdf
from bridge.debrief.plots import draw_all, how_many
from bridge.debrief.saving import save_csv, save_json, save_parquet, save_samples
from bridge.debrief.stored import account_of_store
from bridge.debrief.tables import sheets
from bridge.debrief.words import summary
from bridge.record.again import trip_of
from bridge.record.reader import open_recording
from bridge.screen import SHORT_CAUTION, console_for
from bridge.store.opening import connected
from rules.faults import Fault, InputFaults, Place
from rules.packs.load import load_pack
from rules.packs.model import Pack


def debrief(
    session: Annotated[
        str,
        typer.Argument(
            help="last, the beginning of a session's id, its name, or a recording.", metavar="SESSION"
        ),
    ] = "last",
    *,
    to: Annotated[
        Path | None, typer.Option("--to", help="The folder to write into; debrief-ID here if not given.")
    ] = None,
    pack: Annotated[str, typer.Option("--pack", help="A pack's folder, where it is none that we ship.")] = "",
    data: Annotated[bool, typer.Option("--data", help="The tables of it too: CSV, JSON, Parquet.")] = False,
    samples: Annotated[
        bool, typer.Option("--samples", help="Every sample too, as Parquet and CSV; may be large.")
    ] = False,
    paper: Annotated[bool, typer.Option("--paper/--no-paper", help="Write the PDF, or not.")] = True,
    keep: KeepAt = "",
    store: StoreAt = "",
) -> None:
    """Write the debrief of a session."""
    kept = keeping_for(keep, 1.0, store)
    console = console_for()
    with connected(kept.store) as connection, progress() as hears:
        chosen = choose(session, kept.keep, connection)
        account = _gathered(chosen, pack, connection, hears)
        folder = to or Path(f"debrief-{chosen.uuid[:8]}")
        with _writing(folder):
            written = _pages(account, folder, hears, paper=paper)
            if data:
                written += _tables(account, folder)
            if samples:
                written += _samples(chosen, folder)
    console.print(summary(account), highlight=False)
    for fault in account.faults:
        console.print(fault, style="bold")
    console.print(f"\n{folder}: {', '.join(path.name for path in written)}", soft_wrap=True, highlight=False)
    console.print(SHORT_CAUTION, style="dim")


def _gathered(chosen: Chosen, pack: str, connection: Connection | None, hears: Hears) -> Account:
    """The session from its recording, or else from the store."""
    if chosen.recording is None:
        if connection is None:
            raise InputFaults([Fault(Place(chosen.uuid), "this session is neither recorded nor stored")])
        return account_of_store(connection, chosen.uuid, _pack_if_any(pack or chosen.pack))
    recording = open_recording(chosen.recording)
    rules = load_pack(pack or recording.head.pack.id, trip=trip_of(recording.head))
    return account_of_recording(recording, rules, lambda rows: hears("reading", rows, None), name=chosen.name)


def _pack_if_any(name: str) -> Pack | None:
    """The pack for its titles; without it the session is told in ids."""
    try:
        return load_pack(name)
    except InputFaults:
        return None


def _pages(account: Account, folder: Path, hears: Hears, *, paper: bool) -> list[Path]:
    total = how_many(account)
    plots = draw_all(account, lambda more: hears("drawing", more, total))
    page = folder / "debrief.html"
    page.write_text(write_html(account, plots), encoding="utf-8")
    if not paper:
        return [page]
    hears("laying out", 0, 1)
    printed = folder / "debrief.pdf"
    printed.write_bytes(write_pdf(account, plots))
    hears("laying out", 1, 1)
    return [page, printed]


def _tables(account: Account, folder: Path) -> list[Path]:
    tables = sheets(account)
    written = [*save_csv(tables, folder), save_json(tables, folder / "session.json")]
    return [*written, *save_parquet(tables, folder)]


def _samples(chosen: Chosen, folder: Path) -> list[Path]:
    if chosen.recording is None:
        raise InputFaults(
            [Fault(Place("--samples"), "the recording of this session is gone", "one that is kept")]
        )
    return save_samples(open_recording(chosen.recording), folder)


@contextmanager
def _writing(folder: Path) -> Iterator[None]:
    """A block that writes into a folder, which is made where it is not there."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        at, why = error.filename or folder, error.strerror or error
        fault = Fault(Place(str(at)), f"this cannot be written ({why})", hint="name another with --to")
        raise InputFaults([fault]) from None
