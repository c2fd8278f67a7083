"""`holdshort judge`: one gate, judged on a still picture of the aeroplane.

Takes: a pack, a trip sheet, a gate and a file of values.  Gives: what is open, with reasons;
exit code 0 clear, 1 open, 2 bad input.

With `--json` one object:

    gate, title     the gate's id and title
    clear           true where nothing is open and nothing lacks data
    open            needs that are not met, in the gate's order
    no_data         needs of which the file says nothing, or whose condition is broken
    met, waived     how many
    faults          conditions of the pack that are broken, as printed
    caution         the standing sentence

Each entry of `open` and `no_data` has `item` (its whole id), `label`, `seat`, `level`, `status`, `verdict`,
`sentence`, `actual` and `wanted` (as told, with units), `why`, and `signals`: by the name of each signal that it
reads `value` (a number in the unit, a word, or null), `unit` ("" for a word) and `quality`.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer
from rich.table import Table
from rich.text import Text

from bridge.common.caution import SHORT_CAUTION
from bridge.session.static_state import read_static_state
from bridge.terminal.live_view import LEVEL_STYLES, make_console
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, ItemSnapshot, gate_snapshot
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet


def judge(
    state: Annotated[
        Path, typer.Argument(help="A JSON or YAML file of signal values.", metavar="STATE.json")
    ],
    *,
    pack: Annotated[str, typer.Option("--pack", help="A pack's folder, or the name of one that we ship.")],
    trip: Annotated[Path, typer.Option("--trip", help="The trip sheet.")],
    gate: Annotated[str, typer.Option("--gate", help="The gate to judge, such as push_back.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Judge a still picture of the aeroplane at one gate."""
    papers = load_trip_sheet(trip)
    rules = load_pack(pack, trip=papers)
    core = Judge(rules, papers, steady=True)
    core.judge_frame(read_static_state(state, rules))
    picture = gate_snapshot(core, gate)
    clear = not picture.open_items and not picture.no_data_items
    if as_json:
        sys.stdout.write(msgspec.json.encode(_gate_as_json(core, picture, clear=clear)).decode() + "\n")
    else:
        _print_gate(picture, rules.seats)
    for fault in rules.faults:
        typer.echo(str(fault), err=True)
    raise typer.Exit(0 if clear else 1)


def _gate_as_json(core: Judge, picture: GateSnapshot, *, clear: bool) -> dict[str, Any]:
    return {
        "gate": picture.id,
        "title": picture.title,
        "clear": clear,
        "open": [_item_as_json(core, item) for item in picture.open_items],
        "no_data": [_item_as_json(core, item) for item in picture.no_data_items],
        "met": picture.met,
        "waived": picture.waived,
        "faults": [str(fault) for fault in core.context.pack.faults],
        "caution": SHORT_CAUTION,
    }


def _item_as_json(core: Judge, item: ItemSnapshot) -> dict[str, Any]:
    read = core.context.pack.items[item.id].signals
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
        "signals": {name: _signal_as_json(core, name) for name in read},
    }


def _signal_as_json(core: Judge, name: str) -> dict[str, Any]:
    sample, signal = core.context.state.sample(name), core.context.pack.signals[name]
    return {"value": sample.value, "unit": signal.unit, "quality": str(sample.quality)}


def _print_gate(picture: GateSnapshot, seats: Mapping[str, str]) -> None:
    console = make_console()
    console.print(
        f"{picture.title}: {picture.open} open, {picture.no_data} without data, {picture.met} met, "
        f"{picture.waived} waived"
    )
    table = Table.grid(padding=(0, 1))
    for item in picture.open_items:
        table.add_row(
            Text(item.level.upper(), style=LEVEL_STYLES[item.level]),
            seats.get(item.seat, item.seat),
            item.sentence,
        )
    for item in picture.no_data_items:
        table.add_row("no data", seats.get(item.seat, item.seat), item.sentence)
    console.print(table)
    console.print(SHORT_CAUTION, style="dim")
