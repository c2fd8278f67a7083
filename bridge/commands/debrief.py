"""`holdshort debrief`: write one session as HTML, PDF and tables.

Takes: a session: `last`, the beginning of its id, its name, or the path of its recording.  Gives: `debrief.html` and
`debrief.pdf` in a folder, with `--data` its tables as CSV, JSON and Parquet, with `--samples` every sample; exit code 0, or 2 if there is
no such session.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from sqlalchemy import Connection

from bridge.commands.options import DataDirOption, StoreOption
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.common.progress import ProgressCallback
from bridge.debrief.drawing.plots import draw_all, plot_count
from bridge.debrief.export import save_csv, save_json, save_parquet, save_samples
from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.from_store import debrief_from_store
from bridge.debrief.model import DebriefData
from bridge.debrief.report.document import render_html, render_pdf
from bridge.debrief.session_lookup import SessionRef, find_session
from bridge.debrief.tables import debrief_tables
from bridge.debrief.wording import summary
from bridge.recording.reader import open_recording
from bridge.recording.replay_judge import trip_of_head
from bridge.store.database import read_existing_store
from bridge.store.persistence import resolve_persist_options
from bridge.terminal.console import make_console
from bridge.terminal.progress_bar import progress_bar
from rules.faults import Fault, InputFaults, Place
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack


def debrief(
    session: Annotated[
        str,
        typer.Argument(
            help="last, the beginning of a session's id, its name, or a recording.", metavar="SESSION"
        ),
    ] = "last",
    *,
    to: Annotated[Path | None, typer.Option("--to", help="Output folder; debrief-ID if not given.")] = None,
    pack: Annotated[str, typer.Option("--pack", help="A pack's folder, if it is not one that we ship.")] = "",
    data: Annotated[bool, typer.Option("--data", help="Also write its tables: CSV, JSON, Parquet.")] = False,
    samples: Annotated[
        bool, typer.Option("--samples", help="Also write every sample, as Parquet and CSV; may be large.")
    ] = False,
    pdf: Annotated[bool, typer.Option("--pdf/--no-pdf", help="Write the PDF, or not.")] = True,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """Write the debrief of a session."""
    persist = resolve_persist_options(data_dir, 1.0, store)
    console = make_console()
    with read_existing_store(persist.store_url) as connection, progress_bar() as on_progress:
        chosen = find_session(session, persist.data_dir, connection)
        account = _load_debrief(chosen, pack, connection, on_progress)
        folder = to or Path(f"debrief-{chosen.uuid[:8]}")
        with _output_folder(folder):
            written = _write_pages(account, folder, on_progress, pdf=pdf)
            if data:
                written += _write_tables(account, folder)
            if samples:
                written += _write_samples(chosen, folder)
    console.print(summary(account), highlight=False)
    for fault in account.faults:
        console.print(fault, style="bold")
    console.print(f"\n{folder}: {', '.join(path.name for path in written)}", soft_wrap=True, highlight=False)
    console.print(SHORT_DISCLAIMER, style="dim")


def _load_debrief(
    chosen: SessionRef, pack: str, connection: Connection | None, on_progress: ProgressCallback
) -> DebriefData:
    """Load the session from its recording, or else from the store."""
    if chosen.recording is None:
        if connection is None:
            raise InputFaults([Fault(Place(chosen.uuid), "this session is neither recorded nor stored")])
        return debrief_from_store(connection, chosen.uuid, _pack_if_any(pack or chosen.pack))
    recording = open_recording(chosen.recording)
    rules = load_pack(pack or recording.head.pack.id, trip=trip_of_head(recording.head))
    return debrief_from_recording(
        recording, rules, lambda rows: on_progress("reading", rows, None), name=chosen.name
    )


def _pack_if_any(name: str) -> Pack | None:
    """Load the pack for its titles; without it the debrief shows ids."""
    try:
        return load_pack(name)
    except InputFaults:
        return None


def _write_pages(
    account: DebriefData, folder: Path, on_progress: ProgressCallback, *, pdf: bool
) -> list[Path]:
    total = plot_count(account)
    plots = draw_all(account, lambda more: on_progress("drawing", more, total))
    page = folder / "debrief.html"
    page.write_text(render_html(account, plots), encoding="utf-8")
    if not pdf:
        return [page]
    on_progress("laying out", 0, 1)
    printed = folder / "debrief.pdf"
    printed.write_bytes(render_pdf(account, plots))
    on_progress("laying out", 1, 1)
    return [page, printed]


def _write_tables(account: DebriefData, folder: Path) -> list[Path]:
    tables = debrief_tables(account)
    written = [*save_csv(tables, folder), save_json(tables, folder / "session.json")]
    return [*written, *save_parquet(tables, folder)]


def _write_samples(chosen: SessionRef, folder: Path) -> list[Path]:
    if chosen.recording is None:
        raise InputFaults(
            [
                Fault(
                    Place("--samples"),
                    "there is no recording of this session",
                    "a session with a recording",
                )
            ]
        )
    return save_samples(open_recording(chosen.recording), folder)


@contextmanager
def _output_folder(folder: Path) -> Iterator[None]:
    """Make the folder, and report its errors while the block writes into it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        at, why = error.filename or folder, error.strerror or error
        fault = Fault(Place(str(at)), f"this cannot be written ({why})", hint="name another with --to")
        raise InputFaults([fault]) from None
