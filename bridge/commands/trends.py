"""`holdshort trends` and `holdshort sessions`: counts over the sessions in the store.

Takes: filters.  Gives: tables; or JSON with `--json`: the fields of `bridge.trends.calculations.Trends`, each share as count, of, low
and high.  Exit code 0, or 2 if a filter names something unknown.
"""

from __future__ import annotations

import sys
from collections.abc import Sized
from typing import Annotated, Any

import msgspec
import typer
from rich.console import Console
from rich.table import Table

from bridge.commands.options import DataDirOption, StoreOption
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.common.time_text import duration_text, short_date
from bridge.store.database import read_existing_store
from bridge.store.persistence import resolve_persist_options
from bridge.terminal.console import make_console
from bridge.trends.calculations import Trends, calculate_trends
from bridge.trends.filters import TrendFilter
from bridge.trends.session_list import SessionRow, list_sessions
from bridge.trends.trend_text import (
    found_text,
    interval_text,
    missed_text,
    no_items_text,
    rare_text,
    session_found_text,
    share_text,
    spread_text,
)
from rules.words import count_in_digits, words_of_id

MAX_ITEMS = 20
NOTHING_STORED = "the store is empty; `holdshort watch` stores each session"


def _filter_option(name: str, what: str) -> Any:  # noqa: ANN401 - Typer's own
    return typer.Option(name, metavar="WORD", help=what)


def trends(
    *,
    course: Annotated[str, _filter_option("--course", "Only sessions of this course.")] = "",
    pack: Annotated[str, _filter_option("--pack", "Only sessions judged by this pack.")] = "",
    device: Annotated[str, _filter_option("--device", "Only sessions on this device.")] = "",
    seat: Annotated[str, _filter_option("--seat", "Only findings of this seat.")] = "",
    gate: Annotated[str, _filter_option("--gate", "Only findings at this gate.")] = "",
    error_class: Annotated[str, _filter_option("--class", "Only findings of this class of error.")] = "",
    level: Annotated[str, _filter_option("--level", "Only findings of this level.")] = "",
    person: Annotated[str, _filter_option("--person", "Only sessions and findings of this pseudonym.")] = "",
    since: Annotated[str, typer.Option("--from", metavar="DAY", help="From this day on, 2026-11-25.")] = "",
    until: Annotated[str, typer.Option("--to", metavar="DAY", help="Up to this day.")] = "",
    every: Annotated[bool, typer.Option("--all", help=f"All items, not only the first {MAX_ITEMS}.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """Show the items missed most, by gate.

    Also how early crews are ready.
    """
    choice = TrendFilter(course, pack, device, seat, gate, error_class, level, person, since, until)
    console = make_console()
    with read_existing_store(resolve_persist_options(data_dir, 1.0, store).store_url) as connection:
        found = (
            calculate_trends(connection, choice)
            if connection is not None
            else Trends(0, None, None, NOTHING_STORED)
        )
    if as_json:
        plain = {"filter": choice.active, **msgspec.to_builtins(found), "disclaimer": SHORT_DISCLAIMER}
        sys.stdout.write(msgspec.json.encode(plain).decode() + "\n")
        return
    _print_trends(console, choice, found, every=every)


def sessions(
    *,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON array.")] = False,
    data_dir: DataDirOption = "",
    store: StoreOption = "",
) -> None:
    """List the sessions that are stored, the newest last."""
    console = make_console()
    with read_existing_store(resolve_persist_options(data_dir, 1.0, store).store_url) as connection:
        found = list_sessions(connection) if connection is not None else []
    if as_json:
        sys.stdout.write(msgspec.json.encode(found).decode() + "\n")
        return
    if not found:
        console.print(NOTHING_STORED)
        return
    console.print(_sessions_table(found))
    console.print(SHORT_DISCLAIMER, style="dim")


def _sessions_table(found: list[SessionRow]) -> Table:
    table = _table("Session", "Started, UTC", "Name", "Course", "Device", "Real time", "Found", "State")
    for one in found:
        table.add_row(
            one.uuid[:8],
            short_date(one.began_utc),
            one.name,
            one.course,
            one.device,
            duration_text(max(0.0, one.duration_s)),
            session_found_text(one),
            one.ending or "runs",
        )
    return table


def _print_trends(console: Console, choice: TrendFilter, found: Trends, *, every: bool) -> None:
    chosen = ", ".join(f"{words_of_id(name)} {value}" for name, value in choice.active.items())
    over = count_in_digits(found.sessions, "session")
    console.print(f"{over}{f' ({chosen})' if chosen else ''}{found_text(found)}")
    if found.withheld:
        console.print(found.withheld)
    else:
        if found.missed:
            table = _missed_table(found, MAX_ITEMS if not every else len(found.missed))
            _print_items(console, table, found.missed, every=every)
        else:
            console.print(f"\n{no_items_text(found)}")
        if found.unverified:
            table = _unverified_table(found, MAX_ITEMS if not every else len(found.unverified))
            _print_items(console, table, found.unverified, every=every)
        console.print(_gates_table(found))
        console.print(_ready_table(found))
        console.print(_classes_table(found))
        if found.months:
            console.print(_months_table(found))
        if found.rare:
            console.print(rare_text(found), style="dim")
        console.print("In brackets: the 95 % confidence interval of the share (score interval).", style="dim")
    console.print(SHORT_DISCLAIMER, style="dim")


def _print_items(console: Console, table: Table, items: Sized, *, every: bool) -> None:
    """Print a table of items, and how many more there are."""
    console.print(table)
    if len(items) > MAX_ITEMS and not every:
        console.print(f"and {len(items) - MAX_ITEMS} more; all of them with --all", style="dim")


def _table(*columns: str, title: str = "") -> Table:
    table = Table(
        title=title or None, title_justify="left", title_style="bold", box=None, padding=(0, 1, 0, 0)
    )
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def _title_with_pack(found: Trends, title: str, pack: str) -> str:
    """Add the pack to a title if there are several packs."""
    return f"{title} ({pack})" if len(found.packs) > 1 else title


def _missed_table(found: Trends, most: int) -> Table:
    table = _table("Item", "Gate", "Wrong in", "Share", "Carried", title="\nMissed most")
    for one in found.missed[:most]:
        table.add_row(
            one.label,
            one.gate or "any time",
            missed_text(one),
            interval_text(one.share),
            str(one.carried),
        )
    return table


def _unverified_table(found: Trends, most: int) -> Table:
    table = _table(
        "Item", "Gate", "Not verifiable in", "Share", title="\nNot verifiable: neither wrong nor met"
    )
    for one in found.unverified[:most]:
        table.add_row(one.label, one.gate or "any time", share_text(one.share), interval_text(one.share))
    return table


def _gates_table(found: Trends) -> Table:
    table = _table("Gate", "Open at cue", "Share", "Not ready", "Share", title="\nGates")
    for one in found.gates:
        table.add_row(
            _title_with_pack(found, one.title, one.pack),
            share_text(one.open_at_cue),
            interval_text(one.open_at_cue),
            share_text(one.not_ready),
            interval_text(one.not_ready),
        )
    return table


def _ready_table(found: Trends) -> Table:
    """Give the times at which the gates were ready, and how often all was judged; two tables fit 80 columns."""
    table = _table("Gate", "Ready before", "All judged", title="\nReady before the gates")
    for one in found.gates:
        table.add_row(
            _title_with_pack(found, one.title, one.pack),
            spread_text(one.spare_s),
            share_text(one.fully_judged),
        )
    return table


def _classes_table(found: Trends) -> Table:
    table = _table("Class", "In sessions", "Share", "Findings", "Carried", title="\nThreat and error")
    for one in found.classes:
        table.add_row(
            one.error_class,
            share_text(one.sessions),
            interval_text(one.sessions),
            str(one.findings),
            share_text(one.carried),
        )
    return table


def _months_table(found: Trends) -> Table:
    table = _table("Month", "Sessions", "Findings", "Something carried in", "Share", title="\nMonth by month")
    for one in found.months:
        table.add_row(
            one.month,
            str(one.sessions),
            str(one.findings),
            share_text(one.carried),
            interval_text(one.carried),
        )
    return table
