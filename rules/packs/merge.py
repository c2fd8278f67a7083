"""Merge of packs: keys are replaced under the same id, entries are added, entries are removed.

Takes: layers, base first.  Gives: one layer, in which every value knows its file.
"""

from __future__ import annotations

from rules.faults import Fault
from rules.packs.read_folder import PackLayer
from rules.packs.sourced import PackEntry, SourceLocation
from rules.source import did_you_mean, nearest_word, unknown_fault

_EXPECTATION_FIELDS = frozenset({"condition", "confirm", "expect"})
"""Keys that say what an entry expects; giving one replaces the others."""
_ABOUT_EXPECTATION = frozenset({"say", "source"})
"""Keys that speak of what an entry expects; those of the base do not outlive another expectation."""
_POSITION_FIELDS = ("above", "below")


def merge_layers(layers: list[PackLayer], faults: list[Fault]) -> PackLayer:
    """Merge each pack over those before it.

    Args:
        layers: At least one, base first.
        faults: List to which faults are added.
    """
    merged = PackLayer(layers[0].header, {})
    for layer in layers:
        merged.header = layer.header
        merged.signals.extend(layer.signals)
        for section, entries in layer.sections.items():
            merged.sections[section] = _merge_entries(
                merged.sections.get(section, {}), entries, faults, section, merged.removed
            )
    return merged


def _merge_entries(
    base: dict[str, PackEntry],
    entries: dict[str, PackEntry],
    faults: list[Fault],
    path: str,
    removed: dict[str, SourceLocation],
) -> dict[str, PackEntry]:
    """Merge one section, or the parts of one entry, over another.

    Entries are removed last, so that a new line can be put where a removed one was.

    Args:
        base: Entries of the base.
        entries: Entries of the extending pack.
        faults: List to which faults are added.
        path: Path of the section or entry, such as "flows.before_start".
        removed: Gets the places of the entries that are removed, by their paths.
    """
    result = dict(base)
    for name, entry in entries.items():
        if "remove" not in entry.fields:
            merged = _merge_entry(result.get(name), entry, faults, f"{path}.{name}", removed)
            merged.near = "" if name in base else nearest_word(name, base)
            result[name] = merged
            removed.pop(f"{path}.{name}", None)
    for entry in entries.values():
        result = _positioned(result, entry, faults)
    for entry in entries.values():
        if "remove" in entry.fields and _remove_entry(result, entry, faults):
            removed[f"{path}.{entry.id}"] = entry.location
    return result


def _positioned(entries: dict[str, PackEntry], entry: PackEntry, faults: list[Fault]) -> dict[str, PackEntry]:
    """Put a line above or below another one, where it says so."""
    given = [name for name in _POSITION_FIELDS if name in entry.fields]
    if not given or "remove" in entry.fields:
        return entries
    field, others = entry.fields[given[0]], [name for name in entries if name != entry.id]
    if given[1:]:
        place = entry.fields[given[1]].location.place(key=True)
        faults.append(Fault(place, f"{given[1]} conflicts with {given[0]}", "one of above and below"))
    elif isinstance(field.value, str) and field.value not in others:
        faults.append(unknown_fault(field.location.place(), "line", field.value, others))
    elif isinstance(field.value, str):
        others.insert(others.index(field.value) + given.count("below"), entry.id)
        return {name: entries[name] for name in others}
    return entries


def _remove_entry(result: dict[str, PackEntry], entry: PackEntry, faults: list[Fault]) -> bool:
    """Remove an entry of the base by `remove: true`; False where there is a fault instead."""
    given = entry.fields["remove"]
    if given.value is not True:
        faults.append(Fault(given.location.place(), "remove can only be true", "true"))
    elif entry.id not in result:
        what = f"there is no {entry.id} to remove"
        faults.append(Fault(entry.location.place(key=True), what, hint=did_you_mean(entry.id, result)))
    else:
        del result[entry.id]
        return True
    return False


def _merge_entry(
    base: PackEntry | None,
    entry: PackEntry,
    faults: list[Fault],
    path: str,
    removed: dict[str, SourceLocation],
) -> PackEntry:
    """Merge an entry over the one of the same id; a new one is merged over nothing, so that its parts are processed."""
    base_fields = base.fields if base else {}
    if given := _EXPECTATION_FIELDS & entry.fields.keys():
        is_other = any(
            name not in base_fields or base_fields[name].value != entry.fields[name].value for name in given
        )
        dropped = _EXPECTATION_FIELDS | (_ABOUT_EXPECTATION if is_other else frozenset())
        base_fields = {name: value for name, value in base_fields.items() if name not in dropped}
    parts = _merge_entries(base.parts if base else {}, entry.parts, faults, path, removed)
    return PackEntry(entry.id, entry.location, base_fields | entry.fields, parts)
