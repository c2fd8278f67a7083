"""One pack laid over another: keys replaced under the same id, entries added, entries taken out.

Takes: layers, base first.  Gives: one layer, in which every value still knows the file it came from.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.packs.collect import Layer
from rules.packs.spots import Entry
from rules.source import did_you_mean

_INSTEAD = frozenset({"condition", "confirm", "expect", "item"})
"""Ways to say what an entry expects; whoever gives one, replaces the others."""


def merge(layers: list[Layer], faults: list[Fault]) -> Layer:
    """Lay each pack over those before it.

    Args:
        layers: at least one, base first.
        faults: where faults are added.
    """
    merged = Layer(layers[0].head, {})
    for layer in layers:
        merged.head = layer.head
        merged.signals.extend(layer.signals)
        for section, entries in layer.sections.items():
            merged.sections[section] = _over(merged.sections.get(section, {}), entries, faults)
    return merged


def _over(base: dict[str, Entry], entries: dict[str, Entry], faults: list[Fault]) -> dict[str, Entry]:
    """One section (or the parts of one entry) over another."""
    result = dict(base)
    for name, entry in entries.items():
        if "remove" in entry.fields:
            _take_out(result, entry, faults)
        else:
            result[name] = _replaced(result.get(name), entry, faults)
    return result


def _take_out(result: dict[str, Entry], entry: Entry, faults: list[Fault]) -> None:
    """`remove: true` under an id that the base has."""
    given = entry.fields["remove"]
    if given.value is not True:
        faults.append(Fault(given.spot.place(), "remove can only be true", "true"))
    elif entry.id not in result:
        what = f"there is no {entry.id} to take out"
        faults.append(Fault(entry.at.place(key=True), what, hint=did_you_mean(entry.id, result)))
    else:
        del result[entry.id]


def _replaced(base: Entry | None, entry: Entry, faults: list[Fault]) -> Entry:
    """An entry over the one of the same id; a new one over nothing, so that its parts are seen to."""
    kept = base.fields if base else {}
    if _INSTEAD & entry.fields.keys():
        kept = {name: given for name, given in kept.items() if name not in _INSTEAD}
    parts = _over(base.parts if base else {}, entry.parts, faults)
    return Entry(entry.id, entry.at, kept | entry.fields, parts)
