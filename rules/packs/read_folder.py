"""Contents of one pack folder by sections: each name once, each entry with its places.

Takes: the sources of a folder.  Gives: `PackLayer`, and faults.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from rules.faults import Fault
from rules.packs.schema import IDENTIFIER_PATTERN, ChecklistLineForm, FlowForm, ItemForm
from rules.packs.sourced import PackEntry, SourcedValue, SourceLocation, entry_from_mapping
from rules.source import Key, SourceDocument, unknown_word

PLAIN_SECTIONS = (
    "phases", "limits", "tables", "figures", "estimates", "calls", "gates", "watches", "quiets", "traces", "callouts",
    "times",
)  # fmt: skip
SECTIONS = ("pack", "seats", *PLAIN_SECTIONS, "flows", "checklists", "signals")
_ITEM_KEYS = frozenset(ItemForm.model_fields) - {"condition", "seat"} | {"remove"}
_LINE_KEYS = frozenset(ChecklistLineForm.model_fields) - {"challenge"} | {"remove"}


@dataclass(slots=True)
class PackLayer:
    """One pack of a chain: its head, its entries by section and id, and the places of its own signals.

    `removed` has the entries that an extending pack removed, by their path: "flows.NAME.KEY", "phases.NAME".
    """

    header: PackEntry
    sections: dict[str, dict[str, PackEntry]] = field(default_factory=dict)
    signals: list[SourceLocation] = field(default_factory=list)
    removed: dict[str, SourceLocation] = field(default_factory=dict)


class FolderReader:
    """Reads the files of one folder."""

    def __init__(self, name: SourceLocation, faults: list[Fault]) -> None:
        """Start empty; `name` is the place of the head where the folder has none."""
        self.layer = PackLayer(PackEntry("", name), {section: {} for section in SECTIONS})
        self._faults = faults

    def add_file(self, source: SourceDocument) -> None:
        """Add one file."""
        root = SourceLocation(source, ())
        if source.data is None:
            return
        for section, location in self._mapping_entries(root, "sections"):
            if section == "trip":
                continue  # a trip sheet may lie beside the pack's files; `load_trip` reads it
            if section not in SECTIONS:
                self._add_fault(location, *unknown_word("section", str(section), SECTIONS))
            elif section == "signals":
                self.layer.signals.append(location)
            elif section == "pack":
                self._read_header(location)
            else:
                self._read_section(str(section), location)

    def _read_header(self, location: SourceLocation) -> None:
        """Read the section `pack`, which a folder has once."""
        if self.layer.header.id:
            self._add_fault(
                location,
                "the section pack is defined twice",
                f"once; the first is at {self.layer.header.location.place(key=True)}",
            )
            return
        list(self._mapping_entries(location, "keys"))
        self.layer.header = entry_from_mapping("pack", location)

    def _read_section(self, section: str, location: SourceLocation) -> None:
        """Add the entries of a section; a duplicate id is a fault."""
        entries = self.layer.sections[section]
        read_entry = self._section_readers().get(section, self._read_mapping)
        for name, at in self._mapping_entries(location, section):
            self._check_name(name, at)
            if name in entries:
                self._add_fault(
                    at,
                    f"{name} is defined twice in {section}",
                    f"once; the first is at {entries[str(name)].location.place(key=True)}",
                )
            elif (entry := read_entry(str(name), at)) is not None:
                entries[str(name)] = entry

    def _section_readers(self) -> dict[str, Callable[[str, SourceLocation], PackEntry | None]]:
        """Readers of the sections whose entries are not plain mappings."""
        return {"seats": self._read_seat, "flows": self._read_flow, "checklists": self._read_checklist}

    def _read_mapping(self, name: str, location: SourceLocation) -> PackEntry | None:
        """Read an entry that is a mapping."""
        if not isinstance(location.data, dict):
            self._add_fault(location, f"{name} is not a mapping", "a mapping of keys to values")
            return None
        return entry_from_mapping(name, location)

    def _read_seat(self, name: str, location: SourceLocation) -> PackEntry:
        """Read a seat, which is written as its title."""
        return PackEntry(name, location, {"title": SourcedValue(location.data, location)})

    def _read_flow(self, name: str, location: SourceLocation) -> PackEntry | None:
        """Read a flow: title and phase, and a list of items under each seat."""
        if self._read_mapping(name, location) is None:
            return None
        own = (*FlowForm.model_fields, "remove")
        flow = entry_from_mapping(name, location, own)
        for seat, at in self._mapping_entries(location, "seats"):
            if seat not in own:
                for at_item in self._list_entries(at, f"the items of {seat}"):
                    self._read_item(flow, str(seat), at_item, at)
        return flow

    def _read_item(
        self, flow: PackEntry, seat: str, location: SourceLocation, at_seat: SourceLocation
    ) -> None:
        """Read an item: one key of its own, which holds the condition, beside the known ones."""
        item = self._read_keyed(location, "an item", "condition", _ITEM_KEYS)
        if item is not None:
            item.fields["seat"] = SourcedValue(seat, at_seat)
            self._add_part(flow, item)

    def _read_checklist(self, name: str, location: SourceLocation) -> PackEntry | None:
        """Read a checklist: title and reader, and a list of lines."""
        if self._read_mapping(name, location) is None:
            return None
        checklist = entry_from_mapping(name, location)
        lines = checklist.fields.pop("lines", None)
        for at in self._list_entries(lines.location, "the lines of a checklist") if lines else ():
            line = self._read_keyed(at, "a line", "challenge", _LINE_KEYS)
            if line is not None:
                self._add_part(checklist, line)
        return checklist

    def _read_keyed(
        self, location: SourceLocation, kind: str, main: str, known: frozenset[str]
    ) -> PackEntry | None:
        """Read an entry of a list: the one key that is not known is its id, and holds its main field."""
        data, expected = location.data, f"KEY: {main}"
        if not isinstance(data, dict):
            self._add_fault(location, f"{kind} is a mapping", expected)
            return None
        own = [str(key) for key in data if key not in known]
        if not own or main in data:
            taken = next((str(key) for key in data if key in known), "")
            hint = f"{taken} is a key with another meaning" if taken else ""
            if main in data:
                hint = f"the {main} is written after that key"
            place = location.child(main) if main in data else location
            self._add_fault(place, f"{kind} without a key of its own", expected, hint)
            return None
        key = own[0]
        for extra in own[1:]:
            self._add_fault(location.child(extra), *unknown_word("key", extra, sorted(known)))
        entry = entry_from_mapping(key, location, [name for name in map(str, data) if name in known])
        entry.location = location.child(key)
        self._check_name(key, entry.location)
        value = data[key]
        if isinstance(value, dict) and list(value) == ["remove"]:
            entry.fields["remove"] = SourcedValue(value["remove"], entry.location.child("remove"))
        elif isinstance(value, dict):
            self._add_fault(
                entry.location, f"{key} is a mapping", main, "its keys stand beside it, not in it"
            )
            return None
        elif value is not None:
            entry.fields[main] = SourcedValue(value, entry.location)
        return entry

    def _add_part(self, parent: PackEntry, part: PackEntry) -> None:
        """Add an item or line; a duplicate name is a fault."""
        first = parent.parts.setdefault(part.id, part)
        if first is not part:
            self._add_fault(
                part.location,
                f"{part.id} is defined twice in {parent.id}",
                f"once; the first is at {first.location.place(key=True)}",
            )

    def _check_name(self, name: Key, location: SourceLocation) -> None:
        """Check that an id can be written in a condition."""
        if not re.fullmatch(IDENTIFIER_PATTERN, str(name)):
            self._add_fault(location, f"{name} is not a valid name", "lower-case letters, digits and _")

    def _mapping_entries(self, location: SourceLocation, name: str) -> Iterator[tuple[Key, SourceLocation]]:
        """Keys of a mapping, each with the location of its value."""
        data = location.data
        if isinstance(data, dict):
            yield from ((key, location.child(key)) for key in data)
        elif data is not None:
            self._add_fault(location, f"{name} are not a mapping", "a mapping of names to entries")

    def _list_entries(self, location: SourceLocation, name: str) -> Iterator[SourceLocation]:
        """Locations of the entries of a list."""
        if isinstance(location.data, list):
            yield from (location.child(number) for number in range(len(location.data)))
        elif location.data is not None:
            self._add_fault(location, f"{name} are not a list", "a list")

    def _add_fault(self, location: SourceLocation, what: str, expected: str = "", hint: str = "") -> None:
        """Add a fault at the key of a location."""
        self._faults.append(Fault(location.place(key=True), what, expected, hint))
