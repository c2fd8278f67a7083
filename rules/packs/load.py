"""A pack, from its folder to what the judge runs, or every fault in it at once.

Takes: a folder or the name of a shipped pack, and the trip sheet for what is dispatched inoperative.
Gives: `Pack`; faults of single conditions stand in `Pack.faults`, all others raise `InputFaults`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from rules.faults import Fault, InputFaults, Place
from rules.language.scope import Limit, Scope
from rules.packs.callouts import build_callouts
from rules.packs.conditions import Conditions
from rules.packs.figures import Figures
from rules.packs.items import Items, build_checklists, build_flows
from rules.packs.layers import Chain, read_chain
from rules.packs.merge import merge
from rules.packs.model import Call, Pack
from rules.packs.references import References
from rules.packs.sheets import Sheets
from rules.packs.spots import Spot
from rules.packs.stages import Stages
from rules.packs.strips import build_strips
from rules.packs.times import build_times
from rules.packs.trip import Trip
from rules.signals.book import load_book, signals_from
from rules.signals.model import Signal
from rules.source import did_you_mean


def load_pack(path_or_name: str, *, trip: Trip | None = None) -> Pack:
    """Read, merge and check a pack.

    Args:
        path_or_name: a folder (or a single file), or the name of a shipped pack.
        trip: the papers of the flight; what they dispatch inoperative is excused.

    Raises:
        InputFaults: every fault of every file, in the order of files and lines, unless all of them are those
            of single conditions.
    """
    faults: list[Fault] = []
    chain = read_chain(path_or_name, faults)
    if not chain.layers or not chain.whole:
        raise InputFaults(_ordered([*faults, *_faults_of_forms(chain)], chain))
    sheets = Sheets(merge(chain.layers, faults), faults)
    references = References(sheets, faults)
    references.check()
    signals = _signals(chain, sheets.layer.signals, faults)
    if signals is None:
        raise InputFaults(_ordered(faults, chain))
    inoperative = _inoperative(trip, signals, faults)
    broken: list[Fault] = []
    figures = Figures(sheets, faults)
    scope = _scope(sheets, signals | figures.signals(signals), inoperative)
    pack = _assemble(chain, sheets, references, scope, faults, broken)
    pack = replace(pack, figures=figures.build(scope))
    if faults:
        raise InputFaults(_ordered([*faults, *broken], chain))
    return pack


def _assemble(
    chain: Chain,
    sheets: Sheets,
    references: References,
    scope: Scope,
    faults: list[Fault],
    broken: list[Fault],
) -> Pack:
    """Put the pack together; `faults` and `broken` are complete afterwards."""
    conditions = Conditions(scope, broken, set(sheets.known("limits")) - set(sheets.limits))
    conditions.check_all(sheets.misfits)
    items = Items(sheets, references, conditions, faults).build(broken)
    stages = Stages(sheets, references, conditions, faults)
    head = chain.heads[-1]
    phases, gates, watches, quiets = stages.phases(), stages.gates(), stages.watches(), stages.quiets()
    strips = build_strips(sheets, references, conditions, scope, watches, faults)
    callouts = build_callouts(sheets, references, conditions, scope.signals, faults)
    return Pack(
        id=head.id,
        title=head.title,
        version=head.version,
        caution=head.caution,
        lineage=tuple(form.id for form in reversed(chain.heads)),
        seats={name: filled.form.title for name, filled in sheets.seats.items()},
        signals=scope.signals,
        calls={name: Call(name, filled.form.title, filled.form.by) for name, filled in sheets.calls.items()},
        phases=phases,
        items=items,
        flows=build_flows(sheets),
        checklists=build_checklists(sheets, scope.signals, faults),
        gates=gates,
        watches=watches,
        quiets=quiets,
        strips=strips,
        callouts=callouts,
        times=build_times(sheets, references, conditions, faults),
        faults=_ordered(broken, chain),
    )


def _faults_of_forms(chain: Chain) -> list[Fault]:
    """Faults of what could be read, where a file could not: of a pack that stands alone, entry by entry."""
    found: list[Fault] = []
    if len(chain.layers) == 1 and not chain.layers[0].head.fields.get("extends"):
        Sheets(merge(chain.layers, found), found)
    return found


def _signals(chain: Chain, own: Iterable[Spot], faults: list[Fault]) -> dict[str, Signal] | None:
    """The signals of all books, then the packs' own; None where one of them cannot be had."""
    signals: dict[str, Signal] = {}
    before = len(faults)
    for layer, head in zip(chain.layers, chain.heads, strict=True):
        for number, book in enumerate(head.signals):
            try:
                signals |= load_book(book).signals
            except InputFaults as error:
                faults.extend(_named_here(error, layer.head.spot("signals").down(number)))
    for spot in own:
        try:
            signals |= signals_from(spot.source, spot.path)
        except InputFaults as error:
            faults.extend(error.faults)
    return signals if len(faults) == before else None


def _named_here(error: InputFaults, spot: Spot) -> list[Fault]:
    """A book's faults; one that has no line (no such book) is placed where the pack names it."""
    place = spot.place()
    return [
        fault if fault.place.line else Fault(place, fault.what, fault.expected, fault.hint)
        for fault in error.faults
    ]


def _inoperative(trip: Trip | None, signals: Iterable[str], faults: list[Fault]) -> tuple[str, ...]:
    """What the trip sheet dispatches inoperative; each must be a signal or the beginning of some."""
    names = trip.inoperative if trip else ()
    beginnings = {
        ".".join(name.split(".")[:parts]) for name in signals for parts in range(1, name.count(".") + 2)
    }
    for name in names:
        if name not in beginnings:
            what = f"{name} is dispatched inoperative, but this pack has no such signal"
            faults.append(Fault(Place("trip sheet"), what, "a signal", did_you_mean(name, beginnings)))
    return tuple(names)


def _scope(sheets: Sheets, signals: dict[str, Signal], inoperative: tuple[str, ...]) -> Scope:
    """All that a condition of this pack may name."""
    return Scope(
        signals=signals,
        calls={name: str(entry.fields["title"].value) if "title" in entry.fields else name
               for name, entry in sheets.layer.sections["calls"].items()},
        limits={name: Limit(*filled.form.value, filled.form.label) for name, filled in sheets.limits.items()},
        items=sheets.labels,
        local="",
        inoperative=inoperative,
    )  # fmt: skip


def _ordered(faults: Iterable[Fault], chain: Chain) -> tuple[Fault, ...]:
    """Those of the pack that was asked for before those of its bases; by file, line and column; each once."""

    def rank(fault: Fault) -> tuple[int, str, int, int, str]:
        place = fault.place
        within = (n for n, folder in enumerate(chain.folders) if Path(place.file).is_relative_to(folder))
        return next(within, len(chain.folders)), place.file, place.line, place.column, fault.what

    return tuple(sorted(dict.fromkeys(faults), key=rank))
