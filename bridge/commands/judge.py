"""`holdshort judge`: judge one gate on a static state of the aeroplane.

Takes: a pack, a trip sheet, a gate and a file of values.  Gives: the open items with reasons, and watches and checklists
where they are asked for; exit code by the gate alone: 0 clear, 1 open, 2 bad input.

With `--json` one object:

    gate, title     the gate's id and title
    clear           true where every need that counts is met
    needs, judged   needs that count (all but the waived ones), and how many of them could be judged
    open            needs that are not met, in the gate's order
    no_data         needs without data in the file, or with a broken condition
    met, waived     how many
    faults          conditions of the pack that are broken, as printed
    disclaimer      the standing disclaimer
    watches         with --watches: each watch with its status and sentence
    checklists      with --checklist: its lines, each with challenge, answer, status and items

Each entry of `open` and `no_data` has `item` (its full id), `label`, `seat`, `level`, `status`, `verdict`,
`sentence`, `actual` and `wanted` (as displayed, with units), `why`, and `signals`: by the name of each signal that it
uses `value` (a number in the unit, a word, or null), `unit` ("" for a word) and `quality`.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bridge.commands.judge_lists import (
    checklist_as_json,
    find_checklists,
    print_checklist,
    print_watches,
    watches_as_json,
)
from bridge.commands.options import naming
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.session.static_state import read_static_state
from bridge.terminal.console import LEVEL_STYLES, make_console
from rules.judge.gate_counts import count_needs, gate_text
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, ItemSnapshot, Snapshot
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack, owner_title
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from rules.signals.model import Sample, Signal


def judge(
    state: Annotated[
        Path, typer.Argument(help="A JSON or YAML file of signal values.", metavar="STATE.json")
    ],
    *,
    pack: Annotated[str, typer.Option("--pack", help="A pack's folder, or the name of one that we ship.")],
    trip: Annotated[Path, typer.Option("--trip", help="The trip sheet.")],
    gate: Annotated[str, typer.Option("--gate", help="The gate to judge, such as push_back.")],
    watches: Annotated[bool, typer.Option("--watches", help="Show the watches too.")] = False,
    checklist: Annotated[
        list[str] | None,
        typer.Option("--checklist", help="Show this checklist's answers too; may be repeated."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Judge a static state of the aeroplane at one gate."""
    with naming("--trip"):
        trip_sheet = load_trip_sheet(trip)
    rules = load_pack(pack, trip=trip_sheet)
    snapshot = _judged(rules, trip_sheet, state)
    judged, checklists = snapshot.gate(gate), find_checklists(snapshot, checklist or ())
    clear = not judged.unmet_items and not judged.no_data_items
    if as_json:
        plain = _gate_as_json(rules, snapshot, judged, clear=clear)
        if watches:
            plain["watches"] = watches_as_json(snapshot)
        if checklists:
            plain["checklists"] = [checklist_as_json(one) for one in checklists]
        sys.stdout.write(msgspec.json.encode(plain).decode() + "\n")
    else:
        console = make_console()
        _print_gate(console, judged, rules.seats)
        for one in checklists:
            print_checklist(console, one)
        if watches:
            print_watches(console, rules, snapshot)
        console.print(SHORT_DISCLAIMER, style="dim")
    for fault in rules.faults:
        typer.echo(str(fault), err=True)
    raise typer.Exit(0 if clear else 1)


def _judged(rules: Pack, trip_sheet: TripSheet, state: Path) -> Snapshot:
    """Judge the state of a file."""
    gate_judge = Judge(rules, trip_sheet, steady=True)
    frame, calls = read_static_state(state, rules)
    for name, speaker in calls:
        gate_judge.enter_call(name, speaker)
    gate_judge.judge_frame(frame)
    return gate_judge.explained_snapshot()


def _gate_as_json(pack: Pack, snapshot: Snapshot, gate: GateSnapshot, *, clear: bool) -> dict[str, Any]:
    return {
        "gate": gate.id,
        "title": gate.title,
        "clear": clear,
        "needs": gate.counts.needs,
        "judged": gate.counts.judged,
        "open": [_item_as_json(pack, snapshot, item) for item in gate.unmet_items],
        "no_data": [_item_as_json(pack, snapshot, item) for item in gate.no_data_items],
        "met": len(gate.met_items),
        "waived": len(gate.waived_items),
        "faults": [str(fault) for fault in pack.faults],
        "disclaimer": SHORT_DISCLAIMER,
    }


def _item_as_json(pack: Pack, snapshot: Snapshot, item: ItemSnapshot) -> dict[str, Any]:
    signal_names = pack.items[item.id].signals
    return {
        "item": item.id,
        "label": item.label,
        "seat": item.seat,
        "level": str(item.level),
        "status": str(item.status),
        "verdict": str(item.verdict),
        "sentence": item.sentence,
        "actual": item.actual,
        "wanted": item.wanted,
        "why": item.why,
        "signals": {
            name: _signal_as_json(pack.signals[name], snapshot.sample(name)) for name in signal_names
        },
    }


def _signal_as_json(signal: Signal, sample: Sample) -> dict[str, Any]:
    return {"value": sample.value, "unit": signal.unit, "quality": str(sample.quality)}


def _print_gate(console: Console, gate: GateSnapshot, seats: Mapping[str, str]) -> None:
    counts = count_needs(gate.needs)
    console.print(
        f"{gate.title}: {gate_text(counts)}, {len(gate.met_items)} met, {len(gate.waived_items)} waived"
    )
    table = Table.grid(padding=(0, 1))
    for item in gate.unmet_items:
        table.add_row(
            Text(item.level.upper(), style=LEVEL_STYLES[item.level]),
            owner_title(seats, item.seat),
            item.sentence,
        )
    for item in gate.no_data_items:
        table.add_row("no data", owner_title(seats, item.seat), item.sentence)
    console.print(table)
