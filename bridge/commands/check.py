"""`holdshort check`: check a pack and print all its faults at once.

Takes: a pack, and optionally a trip sheet.  Gives: counts of its contents, or every fault with its line.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.commands.options import faulty_conditions_text, naming
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.words import count_in_digits


def check(
    pack: Annotated[str, typer.Argument(help="A pack's folder, or the name of one that we ship.")],
    trip: Annotated[Path | None, typer.Option("--trip", help="Also check this trip sheet.")] = None,
) -> None:
    """Check a pack and list its faults.

    Prints counts of its contents, or every fault with file, line, column and a hint.
    """
    with naming("--trip"):
        trip_sheet = load_trip_sheet(trip) if trip else None
    loaded = load_pack(pack, trip=trip_sheet)
    typer.echo(f"{loaded.title}, version {loaded.version} ({' extends '.join(loaded.lineage)})")
    typer.echo(
        "  "
        + ", ".join(
            count_in_digits(len(found), noun)
            for noun, found in {
                "signal": loaded.signals,
                "item": loaded.items,
                "watch": loaded.watches,
                "gate": loaded.gates,
                "flow": loaded.flows,
                "checklist": loaded.checklists,
                "trace": loaded.traces,
            }.items()
        )
    )
    for fault in loaded.faults:
        typer.echo(str(fault), err=True)
    if loaded.faults:
        typer.echo(faulty_conditions_text(len(loaded.faults)), err=True)
        raise typer.Exit(2)
