"""Watches and checklists of a static state, for `holdshort judge`: printed, and as plain data for JSON.

Takes: a pack and a snapshot.  Gives: lines on a console, or plain data.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from bridge.terminal.console import LEVEL_STYLES
from rules.faults import InputFaults, Place
from rules.judge.snapshot import (
    ChecklistSnapshot,
    ItemSnapshot,
    Snapshot,
    WatchSnapshot,
    WatchStatus,
)
from rules.packs.model import Level, Pack, owner_title
from rules.source import unknown_fault

_ORDER = (WatchStatus.VIOLATED, WatchStatus.UNKNOWN, WatchStatus.HOLDS, WatchStatus.NOT_APPLICABLE)


def find_checklists(snapshot: Snapshot, names: Iterable[str]) -> list[ChecklistSnapshot]:
    """Find the checklists that were asked for.

    Raises:
        InputFaults: The pack has no such checklist.
    """
    known, wanted = snapshot.checklists, list(names)
    unknown = [name for name in wanted if name not in known]
    if unknown:
        place, expected = Place("--checklist"), "a checklist of the pack"
        raise InputFaults([unknown_fault(place, "checklist", name, known, expected) for name in unknown])
    return [known[name] for name in wanted]


def watches_as_json(snapshot: Snapshot) -> list[dict[str, Any]]:
    """Every watch as plain data, in the pack's order."""
    return [
        {
            "watch": watch.id,
            "label": watch.label,
            "seat": watch.seat,
            "level": str(watch.level),
            "status": str(watch.status),
            "sentence": watch.sentence,
        }
        for watch in snapshot.watches.values()
    ]


def checklist_as_json(checklist: ChecklistSnapshot) -> dict[str, Any]:
    """One checklist as plain data."""
    return {
        "checklist": checklist.id,
        "title": checklist.title,
        "lines": [
            {
                "line": line.id,
                "challenge": line.challenge,
                "answer": line.answer,
                "status": str(line.status),
                "items": [
                    {"item": item.id, "status": str(item.status), "sentence": item.sentence}
                    for item in line.items
                ],
            }
            for line in checklist.lines
        ],
    }


def print_watches(console: Console, pack: Pack, snapshot: Snapshot) -> None:
    """Print every watch with its status, those that do not hold first."""
    watches = sorted(snapshot.watches.values(), key=lambda watch: _ORDER.index(watch.status))
    console.print(f"\nWatches in the phase {snapshot.phase_title}:" if watches else "\nNo watches.")
    table = Table.grid(padding=(0, 1))
    for watch in watches:
        table.add_row(_status_text(watch), owner_title(pack.seats, watch.seat), _watch_text(watch))
    console.print(table)


def print_checklist(console: Console, checklist: ChecklistSnapshot) -> None:
    """Print the lines of a checklist: the answer of one that is met, and of any other why it is not."""
    console.print(f"\n{checklist.title}:")
    table = Table.grid(padding=(0, 1))
    for line in checklist.lines:
        reasons = "; ".join(dict.fromkeys(_item_text(item) for item in line.open_items))
        status = Text(str(line.status), style="" if line.open_items else "dim")
        table.add_row(status, Text(line.challenge), Text(reasons or line.answer))
    console.print(table)


def _status_text(watch: WatchSnapshot) -> Text:
    violated = watch.status is WatchStatus.VIOLATED
    style = LEVEL_STYLES[watch.level] if violated else "dim"
    return Text(Level(watch.level).upper() if violated else str(watch.status), style=style)


def _watch_text(watch: WatchSnapshot) -> Text:
    named = watch.status is WatchStatus.NOT_APPLICABLE or not watch.sentence
    return Text(watch.label if named else f"{watch.label}: {watch.sentence}")


def _item_text(item: ItemSnapshot) -> str:
    return item.sentence or item.label
