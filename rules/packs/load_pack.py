"""Load a pack from its folder, or report all of its faults at once.

Takes: a folder or the name of a shipped pack, and the trip sheet for what is dispatched inoperative.
Gives: `Pack`, and `SHIPPED_DIR`, the folder of the shipped packs.  Faults of single conditions are in `Pack.faults`, all
others raise `InputFaults`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from rules.faults import Fault, InputFaults
from rules.language.online.call_availability import ALL_SPEAKERS
from rules.language.scope import PackLimit, Scope
from rules.packs.build_gates import GateBuilder
from rules.packs.callouts import build_callouts
from rules.packs.checklists import ChecklistBuilder
from rules.packs.conditions import ConditionChecker
from rules.packs.estimates import build_estimates, check_estimates
from rules.packs.figures import FigureBuilder
from rules.packs.flight_times import build_flight_times
from rules.packs.inheritance import SHIPPED_DIR, PackChain, read_chain
from rules.packs.items import ItemBuilder, build_flows
from rules.packs.matches import with_item_matches
from rules.packs.merge import merge_layers
from rules.packs.model import SPEAKERS, Call, Figure, Pack
from rules.packs.references import References
from rules.packs.source_digest import source_digest
from rules.packs.sourced import SourceLocation
from rules.packs.traces import build_traces
from rules.packs.trip_sheet import TripSheet
from rules.packs.validated import ValidatedPack
from rules.signals.book import load_book, parse_signals
from rules.signals.model import Signal
from rules.source import did_you_mean, unknown_word

__all__ = ["SHIPPED_DIR", "load_pack"]


@dataclass(frozen=True, slots=True)
class PackFiles:
    """The files of a pack, read, merged and checked; all of a pack that does not depend on the trip sheet.

    Attributes:
        chain: The layers and their headers.
        validated: The merged entries; None where a file cannot be read.
        signals: Signals of all books and of the pack; None where one of them cannot be loaded.
        faults: The faults so far.
    """

    chain: PackChain
    validated: ValidatedPack | None
    signals: Mapping[str, Signal] | None
    faults: tuple[Fault, ...]


class PackCache:
    """Loads packs for several devices: files are read once, and devices with equal packs share one `Pack`.

    A change of a file is not seen after its first use, so that all devices get the same rules: use one cache for one
    start.
    """

    def __init__(self) -> None:
        """Start empty."""
        self._files: dict[str, PackFiles] = {}
        self._packs: dict[tuple[str, tuple[str, ...]], Pack] = {}

    def load(self, path_or_name: str, *, trip: TripSheet | None = None) -> Pack:
        """Load a pack as `load_pack` does, or give the one that was loaded before.

        Raises:
            InputFaults: as `load_pack`.
        """
        if path_or_name not in self._files:
            self._files[path_or_name] = read_pack_files(path_or_name)
        # Of a trip sheet only this changes a pack; its values are signals.
        inoperative = trip.inoperative if trip else ()
        key = (path_or_name, inoperative)
        if key not in self._packs:
            self._packs[key] = build_pack(self._files[path_or_name], inoperative)
        if trip is not None:
            _check_trip(trip, self._packs[key], self._files[path_or_name].signals or ())
        return self._packs[key]


def load_pack(path_or_name: str, *, trip: TripSheet | None = None) -> Pack:
    """Read, merge and check a pack.

    Args:
        path_or_name: Folder (or a single file), or the name of a shipped pack.
        trip: Trip sheet of the flight; items whose signals it dispatches inoperative are waived.

    Raises:
        InputFaults: Every fault of every file, in the order of files and lines, unless all of them are faults of single
            conditions.
    """
    return PackCache().load(path_or_name, trip=trip)


def read_pack_files(path_or_name: str) -> PackFiles:
    """Read and merge the files of a pack; their faults are part of the result.

    Args:
        path_or_name: Folder (or a single file), or the name of a shipped pack.
    """
    faults: list[Fault] = []
    chain = read_chain(path_or_name, faults)
    if not chain.layers or not chain.complete:
        return PackFiles(chain, None, None, (*faults, *_form_faults(chain)))
    validated = ValidatedPack(merge_layers(chain.layers, faults), faults)
    References(validated, faults).check()
    signals = _load_signals(chain, validated.layer.signals, faults)
    return PackFiles(chain, validated, signals, tuple(faults))


def build_pack(files: PackFiles, inoperative: tuple[str, ...]) -> Pack:
    """Check the conditions of a pack and build it.

    Args:
        files: The files of the pack; they stay as they are.
        inoperative: Signals that the trip sheet dispatches inoperative, or the dotted beginnings of their names.

    Raises:
        InputFaults: Every fault of every file, unless all of them are faults of single conditions.
    """
    chain, validated, faults = files.chain, files.validated, list(files.faults)
    if validated is None or files.signals is None:
        raise InputFaults(_sorted_faults(faults, chain))
    condition_faults: list[Fault] = []
    figure_builder = FigureBuilder(validated, faults)
    scope = _build_scope(validated, {**files.signals, **figure_builder.signals(files.signals)}, inoperative)
    figures = figure_builder.build(scope)
    scope = replace(scope, estimates=build_estimates(validated, faults))
    check_estimates(validated, scope, faults)
    references = References(validated, faults, scope.matches)
    pack = _build_pack(chain, validated, references, scope, figures, faults, condition_faults)
    pack = replace(pack, source_digest=source_digest(validated.layer, files.signals.values(), inoperative))
    if faults:
        raise InputFaults(_sorted_faults([*faults, *condition_faults], chain))
    return pack


def _build_pack(
    chain: PackChain,
    validated: ValidatedPack,
    references: References,
    scope: Scope,
    figures: tuple[Figure, ...],
    faults: list[Fault],
    condition_faults: list[Fault],
) -> Pack:
    """Build the pack; `faults` and `condition_faults` are complete afterwards."""
    conditions = ConditionChecker(
        scope, condition_faults, set(validated.ids("limits")) - set(validated.limits)
    )
    conditions.check_all(validated.invalid_entries)
    items = ItemBuilder(validated, references, conditions, faults).build(condition_faults)
    gate_builder = GateBuilder(validated, references, conditions, faults)
    header = chain.headers[-1]
    phases, gates, watches, quiet_periods = (
        gate_builder.phases(),
        gate_builder.gates(),
        gate_builder.watches(),
        gate_builder.quiet_periods(),
    )
    traces = build_traces(validated, references, conditions, scope, watches, faults)
    callouts = build_callouts(validated, references, conditions, scope, faults)
    return Pack(
        id=header.id,
        title=header.title,
        version=header.version,
        disclaimer=header.disclaimer,
        lineage=tuple(form.id for form in reversed(chain.headers)),
        seats={name: filled.form.title for name, filled in validated.seats.items()},
        signals=scope.signals,
        calls={
            name: Call(name, filled.form.title, filled.form.by) for name, filled in validated.calls.items()
        },
        phases=phases,
        items=items,
        flows=build_flows(validated, references),
        checklists=ChecklistBuilder(validated, references, items, figures, gates, scope, faults).build(),
        gates=gates,
        watches=watches,
        quiet_periods=quiet_periods,
        figures=figures,
        traces=traces,
        callouts=callouts,
        flight_times=build_flight_times(validated, references, conditions, faults),
        faults=_sorted_faults(condition_faults, chain),
    )


def _form_faults(chain: PackChain) -> list[Fault]:
    """Faults of the readable files where another file is not readable; only for a pack that extends none."""
    found: list[Fault] = []
    if len(chain.layers) == 1 and not chain.layers[0].header.fields.get("extends"):
        ValidatedPack(merge_layers(chain.layers, found), found)
    return found


def _load_signals(
    chain: PackChain, own_locations: Iterable[SourceLocation], faults: list[Fault]
) -> dict[str, Signal] | None:
    """Signals of all books, then the packs' own; None where one of them cannot be loaded."""
    signals: dict[str, Signal] = {}
    before = len(faults)
    for layer, header in zip(chain.layers, chain.headers, strict=True):
        for number, book in enumerate(header.signals):
            try:
                signals |= load_book(book).signals
            except InputFaults as error:
                faults.extend(_placed_at(error, layer.header.field_location("signals").child(number)))
    for spot in own_locations:
        try:
            signals |= parse_signals(spot.source, spot.path)
        except InputFaults as error:
            faults.extend(error.faults)
    return signals if len(faults) == before else None


def _placed_at(error: InputFaults, location: SourceLocation) -> list[Fault]:
    """Faults of a book; one without a line (unknown book) is placed at its name in the pack."""
    place = location.place()
    return [
        fault if fault.place.line else Fault(place, fault.what, fault.expected, fault.hint)
        for fault in error.faults
    ]


def _check_trip(trip: TripSheet, pack: Pack, signals: Iterable[str]) -> None:
    """Check the words of a trip sheet that only a pack knows: what is inoperative, and whose calls are entered.

    Raises:
        InputFaults: Every such word that the pack does not have.
    """
    beginnings = {
        ".".join(name.split(".")[:parts]) for name in signals for parts in range(1, name.count(".") + 2)
    }
    speakers = (*pack.seats, *SPEAKERS, ALL_SPEAKERS)
    faults = [
        Fault(
            trip.place_of(name),
            f"{name} is dispatched inoperative, but this pack has no such signal",
            "a signal",
            did_you_mean(name, beginnings),
        )
        for name in trip.inoperative
        if name not in beginnings
    ]
    faults += [
        Fault(trip.place_of(name), *unknown_word("speaker of calls", name, speakers))
        for name in trip.calls or ()
        if name not in speakers
    ]
    if faults:
        raise InputFaults(faults)


def _build_scope(validated: ValidatedPack, signals: dict[str, Signal], inoperative: tuple[str, ...]) -> Scope:
    """Names that conditions of this pack may use."""
    scope = Scope(
        signals=signals,
        calls={name: str(entry.fields["title"].value) if "title" in entry.fields else name
               for name, entry in validated.layer.sections["calls"].items()},
        missing_calls={name: filled.form.missing for name, filled in validated.calls.items()},
        speakers=(*validated.seats, *SPEAKERS),
        limits={name: PackLimit(*filled.form.value, filled.form.label) for name, filled in validated.limits.items()},
        items=validated.labels,
        local="",
        inoperative=inoperative,
        removed=frozenset(_removed_items(validated)),
    )  # fmt: skip
    return with_item_matches(scope, validated)


def _removed_items(validated: ValidatedPack) -> Iterator[str]:
    """Full ids of the items and lines that an extending pack removed."""
    for path in validated.layer.removed:
        section, _, name = path.partition(".")
        if section in ("flows", "checklists") and "." in name:
            yield f"{section.removesuffix('s')}.{name}"


def _sorted_faults(faults: Iterable[Fault], chain: PackChain) -> tuple[Fault, ...]:
    """Sort faults by pack (the requested one first), file, line and column, without duplicates."""

    def rank(fault: Fault) -> tuple[int, str, int, int, str]:
        place = fault.place
        within = (n for n, folder in enumerate(chain.folders) if Path(place.file).is_relative_to(folder))
        return next(within, len(chain.folders)), place.file, place.line, place.column, fault.what

    return tuple(sorted(dict.fromkeys(faults), key=rank))
