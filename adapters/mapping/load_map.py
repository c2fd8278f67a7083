"""Reads map files.

Takes: a path or the name of a shipped map, and the signals.  Gives: `MapFile`, or `InputFaults` with every fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from adapters.decoders.struct_layout import StructLayout
from adapters.mapping.map_checker import MapChecker
from adapters.mapping.map_form import MapFileForm
from adapters.mapping.map_plan import MapPlan
from rules.faults import Fault, InputFaults, Place
from rules.signals.book import load_books
from rules.signals.model import Signal
from rules.source import SourceDocument, did_you_mean, faults_of, read_source

MAPS_DIR = Path(__file__).parent / "maps"


@dataclass(frozen=True, slots=True)
class MapFile:
    """A checked map file.

    Attributes:
        title: The title for messages.
        format: The wire format.
        signals: The signals that the map may bind.
        plan: The binding of fields to signals.
        number_bits: The width of sequence numbers.
        wrap_s: As in `adapters.sequence.SequenceTracker`.
        columns: The column order of labelled CSV until its heading arrives.
        struct_layout: The layout of a packed record.
    """

    title: str
    format: str
    signals: Mapping[str, Signal]
    plan: MapPlan
    number_bits: int = 32
    wrap_s: float = 0.0
    columns: tuple[str, ...] = ()
    struct_layout: StructLayout | None = None


def load_map(name_or_path: str | Path, signals: Mapping[str, Signal] | None = None) -> MapFile:
    """Read a map file.

    Args:
        name_or_path: A path, or the name of a shipped map.
        signals: The signals of the pack in use; None for those of the books that the map names.

    Raises:
        InputFaults: The file cannot be read or has faults; every fault, in the order of the file.
    """
    return parse_map(read_source(_map_path(str(name_or_path))), signals)


def parse_map(source: SourceDocument, signals: Mapping[str, Signal] | None = None) -> MapFile:
    """Read a map from a source document; arguments and faults as for `load_map`."""
    try:
        form = MapFileForm.model_validate(source.data).map
    except ValidationError as error:
        raise InputFaults(faults_of(error, source, model=MapFileForm)) from None
    if signals is None:
        if not form.signals:
            place = source.place(("map",), key=True)
            raise InputFaults([Fault(place, "signals is missing", "the signal books of the fields")])
        signals = load_books(form.signals)
    checker = MapChecker(source, signals)
    plan, layout, wrap_s = (
        checker.build_plan(form),
        checker.build_struct_layout(form.struct),
        checker.wrap_s(form.time),
    )
    if checker.faults:
        raise InputFaults(sorted(checker.faults, key=lambda fault: (fault.place.line, fault.place.column)))
    bits = form.sequence.bits if form.sequence else 32
    return MapFile(form.title, form.format, signals, plan, bits, wrap_s, tuple(form.columns), layout)


def shipped_maps() -> list[str]:
    """List the names of the shipped maps."""
    return sorted(path.stem for path in MAPS_DIR.glob("*.yaml"))


def _map_path(name: str) -> Path:
    """Find the file of a map by path or name."""
    if name.endswith((".yaml", ".yml", ".json")) or "/" in name or "\\" in name:
        return Path(name)
    if name not in shipped_maps():
        hint = did_you_mean(name, shipped_maps()) or f"shipped maps: {', '.join(shipped_maps()) or 'none'}"
        raise InputFaults([Fault(Place(name), "unknown map", "a path, or the name of a shipped map", hint)])
    return MAPS_DIR / f"{name}.yaml"
