"""`holdshort judge`: one gate, judged on a still picture of the aeroplane.

Takes: a pack, a trip sheet, a gate and a file of values.  Gives: what is open, with reasons;
exit code 0 clear, 1 open, 2 bad input.

With `--json` one object:

    gate, title     the gate's id and title
    clear           true where nothing is open and nothing lacks data
    open            needs that are not met, in the gate's order
    no_data         needs of which the file says nothing, or whose condition is broken
    met, excused    how many
    faults          conditions of the pack that are broken, as printed
    caution         the standing sentence

Each entry of `open` and `no_data` has `item` (its whole id), `label`, `seat`, `level`, `life`, `verdict`,
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

from bridge.screen import SHORT_CAUTION, STYLES, console_for
from bridge.still import read_still
from rules.judge.core import Core
from rules.judge.picture import GatePicture, ItemPicture, judge_gate
from rules.packs.load import load_pack
from rules.packs.trip import load_trip


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
    papers = load_trip(trip)
    rules = load_pack(pack, trip=papers)
    core = Core(rules, papers, steady=True)
    core.frame(read_still(state, rules))
    picture = judge_gate(core, gate)
    clear = not picture.open_items and not picture.no_data_items
    if as_json:
        sys.stdout.write(msgspec.json.encode(_plain(core, picture, clear=clear)).decode() + "\n")
    else:
        _show(picture, rules.seats)
    for fault in rules.faults:
        typer.echo(str(fault), err=True)
    raise typer.Exit(0 if clear else 1)


def _plain(core: Core, picture: GatePicture, *, clear: bool) -> dict[str, Any]:
    return {
        "gate": picture.id,
        "title": picture.title,
        "clear": clear,
        "open": [_item(core, item) for item in picture.open_items],
        "no_data": [_item(core, item) for item in picture.no_data_items],
        "met": picture.met,
        "excused": picture.excused,
        "faults": [str(fault) for fault in core.session.pack.faults],
        "caution": SHORT_CAUTION,
    }


def _item(core: Core, item: ItemPicture) -> dict[str, Any]:
    read = core.session.pack.items[item.id].signals
    return {
        "item": item.id,
        "label": item.label,
        "seat": item.seat,
        "level": str(item.level),
        "life": str(item.life),
        "verdict": str(item.verdict),
        "sentence": item.sentence,
        "actual": item.actual,
        "wanted": item.wanted,
        "why": item.why,
        "signals": {name: _signal(core, name) for name in read},
    }


def _signal(core: Core, name: str) -> dict[str, Any]:
    sample, signal = core.session.state.sample(name), core.session.pack.signals[name]
    return {"value": sample.value, "unit": signal.unit, "quality": str(sample.quality)}


def _show(picture: GatePicture, seats: Mapping[str, str]) -> None:
    console = console_for()
    console.print(
        f"{picture.title}: {picture.open} open, {picture.no_data} without data, {picture.met} met, "
        f"{picture.excused} excused"
    )
    table = Table.grid(padding=(0, 1))
    for item in picture.open_items:
        table.add_row(
            Text(item.level.upper(), style=STYLES[item.level]), seats.get(item.seat, item.seat), item.sentence
        )
    for item in picture.no_data_items:
        table.add_row("no data", seats.get(item.seat, item.seat), item.sentence)
    console.print(table)
    console.print(SHORT_CAUTION, style="dim")
