"""`holdshort check`: is this pack right?  Every fault at once, each at its line.

Takes: a pack, and a trip sheet if there is one.  Gives: what is in it, or what is wrong with it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet


def check(
    pack: Annotated[str, typer.Argument(help="A pack's folder, or the name of one that we ship.")],
    trip: Annotated[Path | None, typer.Option("--trip", help="Also check this trip sheet.")] = None,
) -> None:
    """Check a pack: say what is in it, or every fault with file, line, column and a hint."""
    papers = load_trip_sheet(trip) if trip else None
    loaded = load_pack(pack, trip=papers)
    typer.echo(f"{loaded.title}, version {loaded.version} ({' extends '.join(loaded.lineage)})")
    typer.echo(
        f"  {len(loaded.signals)} signals, {len(loaded.items)} expectations, {len(loaded.watches)} watches, "
        f"{len(loaded.gates)} gates, {len(loaded.flows)} flows, {len(loaded.checklists)} checklists, "
        f"{len(loaded.traces)} traces"
    )
    for fault in loaded.faults:
        typer.echo(str(fault), err=True)
    if loaded.faults:
        typer.echo(f"{len(loaded.faults)} conditions are broken; they show as UNKNOWN", err=True)
        raise typer.Exit(2)
