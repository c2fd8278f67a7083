"""`holdshort trends` and `holdshort sessions`: what the store knows of many sessions.

Takes: filters.  Gives: tables; or JSON with `--json`: the fields of `bridge.trends.reckon.Trends`, each share as count, of, low
and high.  Exit code 0, or 2 where a filter names nothing that is there.
"""

from __future__ import annotations

import sys
from typing import Annotated, Any

import msgspec
import typer
from rich.console import Console
from rich.table import Table

from bridge.commands.keeping import KeepAt, StoreAt, keeping_for
from bridge.debrief.words import date, span
from bridge.screen import SHORT_CAUTION, console_for
from bridge.store.opening import connected
from bridge.trends.choice import Choice
from bridge.trends.listing import Listed, listed
from bridge.trends.reckon import Trends
from bridge.trends.reckon import trends as reckon
from bridge.trends.words import range_of, said, spread_said

MOST = 20
NOTHING = "nothing is stored yet; `holdshort watch` stores what it sees"


def _filter(name: str, what: str) -> Any:  # noqa: ANN401 - Typer's own
    return typer.Option(name, metavar="WORD", help=what)


def trends(
    *,
    course: Annotated[str, _filter("--course", "Only sessions of this course.")] = "",
    pack: Annotated[str, _filter("--pack", "Only sessions judged by this pack.")] = "",
    device: Annotated[str, _filter("--device", "Only sessions on this device.")] = "",
    seat: Annotated[str, _filter("--seat", "Only findings of this seat.")] = "",
    gate: Annotated[str, _filter("--gate", "Only findings at this gate.")] = "",
    error_class: Annotated[str, _filter("--class", "Only findings of this class of error.")] = "",
    level: Annotated[str, _filter("--level", "Only findings of this level.")] = "",
    person: Annotated[str, _filter("--person", "Only sessions and findings of this pseudonym.")] = "",
    since: Annotated[str, typer.Option("--from", metavar="DAY", help="From this day on, 2026-11-25.")] = "",
    until: Annotated[str, typer.Option("--to", metavar="DAY", help="Up to this day.")] = "",
    every: Annotated[bool, typer.Option("--all", help=f"Every item, not the first {MOST}.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    keep: KeepAt = "",
    store: StoreAt = "",
) -> None:
    """Say what is missed most, at which gate, and how early crews are ready."""
    choice = Choice(course, pack, device, seat, gate, error_class, level, person, since, until)
    console = console_for()
    with connected(keeping_for(keep, 1.0, store).store) as connection:
        found = reckon(connection, choice) if connection is not None else Trends(0, 0, NOTHING)
    if as_json:
        plain = {"choice": choice.said, **msgspec.to_builtins(found), "caution": SHORT_CAUTION}
        sys.stdout.write(msgspec.json.encode(plain).decode() + "\n")
        return
    _show(console, choice, found, every=every)


def sessions(
    *,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON array.")] = False,
    keep: KeepAt = "",
    store: StoreAt = "",
) -> None:
    """List the sessions that are stored, the newest last."""
    console = console_for()
    with connected(keeping_for(keep, 1.0, store).store) as connection:
        found = listed(connection) if connection is not None else []
    if as_json:
        sys.stdout.write(msgspec.json.encode(found).decode() + "\n")
        return
    if not found:
        console.print(NOTHING)
        return
    console.print(_listing(found))
    console.print(SHORT_CAUTION, style="dim")


def _listing(found: list[Listed]) -> Table:
    table = _table("Session", "Begun, UTC", "Name", "Course", "Device", "For", "Found", "Ended")
    for one in found:
        levels = ", ".join(f"{count} {level}" for level, count in one.levels.items()) or "nothing"
        table.add_row(
            one.uuid[:8],
            date(one.began_utc),
            one.name,
            one.course,
            one.device,
            span(max(0.0, one.lasted_s)),
            levels,
            one.ending or "runs",
        )
    return table


def _show(console: Console, choice: Choice, found: Trends, *, every: bool) -> None:
    chosen = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in choice.said.items())
    over = f"{found.sessions} {'session' if found.sessions == 1 else 'sessions'}"
    findings = f"{found.findings} {'finding' if found.findings == 1 else 'findings'}"
    console.print(f"{over}{f' ({chosen})' if chosen else ''}, {findings}")
    if found.withheld:
        console.print(found.withheld)
    else:
        console.print(_missed(found, MOST if not every else len(found.missed)))
        if len(found.missed) > MOST and not every:
            console.print(f"and {len(found.missed) - MOST} more; all of them with --all", style="dim")
        console.print(_gates(found))
        console.print(_classes(found))
        if found.months:
            console.print(_months(found))
        console.print(
            "In brackets: the interval in which the share lies at 95 % (score interval).", style="dim"
        )
    console.print(SHORT_CAUTION, style="dim")


def _table(*columns: str, title: str = "") -> Table:
    table = Table(
        title=title or None, title_justify="left", title_style="bold", box=None, padding=(0, 1, 0, 0)
    )
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def _of(found: Trends, title: str, pack: str) -> str:
    """A title, with the pack where there are several."""
    return f"{title} ({pack})" if len(found.packs) > 1 else title


def _missed(found: Trends, most: int) -> Table:
    table = _table("Item", "Gate", "Wrong in", "Share", "Carried", title="\nMissed most")
    for one in found.missed[:most]:
        table.add_row(
            one.label, one.gate or "any time", said(one.share), range_of(one.share), str(one.carried)
        )
    return table


def _gates(found: Trends) -> Table:
    table = _table("Gate", "Open at the cue", "Share", "Not ready", "Share", "Ready before", title="\nGates")
    for one in found.gates:
        table.add_row(
            _of(found, one.title, one.pack),
            said(one.open_at_cue),
            range_of(one.open_at_cue),
            said(one.not_ready),
            range_of(one.not_ready),
            spread_said(one.spare_s),
        )
    return table


def _classes(found: Trends) -> Table:
    table = _table("Class", "In sessions", "Share", "Findings", "Carried", title="\nThreat and error")
    for one in found.classes:
        table.add_row(
            one.error_class, said(one.sessions), range_of(one.sessions), str(one.findings), said(one.carried)
        )
    return table


def _months(found: Trends) -> Table:
    table = _table("Month", "Sessions", "Findings", "Something carried in", "Share", title="\nMonth by month")
    for one in found.months:
        table.add_row(
            one.month, str(one.sessions), str(one.findings), said(one.carried), range_of(one.carried)
        )
    return table
