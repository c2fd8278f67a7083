"""What one pack folder says, sorted into sections: each name once, each entry with its places.

Takes: the sources of a folder.  Gives: `Layer`, and the faults found on the way.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from rules.faults import Fault
from rules.packs.schema import WORD, FlowForm, ItemForm
from rules.packs.spots import Entry, Given, Spot, entry_of
from rules.source import Key, Source, did_you_mean, join_or

PLAIN = (
    "phases", "limits", "tables", "figures", "calls", "gates", "watches", "quiets", "strips", "callouts",
    "times",
)  # fmt: skip
SECTIONS = ("pack", "seats", *PLAIN, "flows", "checklists", "signals")
_ITEM_KEYS = frozenset(ItemForm.model_fields) - {"condition", "seat"} | {"remove"}


@dataclass(slots=True)
class Layer:
    """One pack of a chain: its head, its entries by section and id, and where it adds signals."""

    head: Entry
    sections: dict[str, dict[str, Entry]] = field(default_factory=dict)
    signals: list[Spot] = field(default_factory=list)


class Collector:
    """Goes through the files of one folder."""

    def __init__(self, name: Spot, faults: list[Fault]) -> None:
        """Begin with nothing; `name` stands for the folder where no head is found."""
        self.layer = Layer(Entry("", name), {section: {} for section in SECTIONS})
        self._faults = faults

    def take(self, source: Source) -> None:
        """Add one file."""
        root = Spot(source, ())
        if source.data is None:
            return
        for section, spot in self._entries(root, "sections"):
            if section == "trip":
                continue  # a trip sheet may lie beside the pack's files; `load_trip` reads it
            if section not in SECTIONS:
                self._fault(
                    spot,
                    f"unknown section {section}",
                    join_or(SECTIONS),
                    did_you_mean(str(section), SECTIONS),
                )
            elif section == "signals":
                self.layer.signals.append(spot)
            elif section == "pack":
                self._head(spot)
            else:
                self._section(str(section), spot)

    def _head(self, spot: Spot) -> None:
        """`pack:` stands once in a folder."""
        if self.layer.head.id:
            self._fault(
                spot, "pack stands twice", f"once; the first is at {self.layer.head.at.place(key=True)}"
            )
            return
        list(self._entries(spot, "keys"))
        self.layer.head = entry_of("pack", spot)

    def _section(self, section: str, spot: Spot) -> None:
        """Add a section's entries; the same id twice is a fault."""
        kept = self.layer.sections[section]
        make = self._makers().get(section, self._plain)
        for name, at in self._entries(spot, section):
            self._word(name, at)
            if name in kept:
                self._fault(
                    at,
                    f"{name} stands twice in {section}",
                    f"once; the first is at {kept[str(name)].at.place(key=True)}",
                )
            elif (entry := make(str(name), at)) is not None:
                kept[str(name)] = entry

    def _makers(self) -> dict[str, Callable[[str, Spot], Entry | None]]:
        """Sections whose entries are not plain mappings."""
        return {"seats": self._seat, "flows": self._flow, "checklists": self._checklist}

    def _plain(self, name: str, spot: Spot) -> Entry | None:
        """An entry that is a mapping."""
        if not isinstance(spot.data, dict):
            self._fault(spot, f"{name} is not a mapping", "a mapping of keys to values")
            return None
        return entry_of(name, spot)

    def _seat(self, name: str, spot: Spot) -> Entry:
        """A seat is its title."""
        return Entry(name, spot, {"title": Given(spot.data, spot)})

    def _flow(self, name: str, spot: Spot) -> Entry | None:
        """A flow: title and phase, and a list of items under each seat."""
        if self._plain(name, spot) is None:
            return None
        own = (*FlowForm.model_fields, "remove")
        flow = entry_of(name, spot, own)
        for seat, at in self._entries(spot, "seats"):
            if seat not in own:
                for at_item in self._listed(at, f"the items of {seat}"):
                    self._item(flow, str(seat), at_item, at)
        return flow

    def _item(self, flow: Entry, seat: str, spot: Spot, at_seat: Spot) -> None:
        """An item: one key of its own, which holds the condition, beside the known ones."""
        data = spot.data
        if not isinstance(data, dict):
            self._fault(spot, "an item is a mapping", "KEY: condition")
            return
        unknown = [str(key) for key in data if key not in _ITEM_KEYS]
        if not unknown:
            self._fault(
                spot, "an item without a key of its own", "KEY: condition", "keys such as label are taken"
            )
            return
        key = unknown[0]
        for extra in unknown[1:]:
            listed = sorted(_ITEM_KEYS)
            self._fault(
                spot.down(extra), f"unknown key {extra}", join_or(listed), did_you_mean(extra, listed)
            )
        item = entry_of(key, spot, [name for name in map(str, data) if name in _ITEM_KEYS])
        item.at = spot.down(key)
        self._word(key, item.at)
        item.fields["seat"] = Given(seat, at_seat)
        if data[key] is not None:
            item.fields["condition"] = Given(data[key], spot.down(key))
        self._part(flow, item)

    def _checklist(self, name: str, spot: Spot) -> Entry | None:
        """A checklist: title and reader, and a list of lines, known by their challenges."""
        if self._plain(name, spot) is None:
            return None
        checklist = entry_of(name, spot)
        lines = checklist.fields.pop("items", None)
        for at in self._listed(lines.spot, "the lines of a checklist") if lines else ():
            data = at.data
            if not isinstance(data, dict):
                self._fault(at, "a line is a mapping", "challenge and answer")
            else:
                challenge = data.get("challenge")
                self._part(
                    checklist, entry_of(challenge if isinstance(challenge, str) else str(at.path[-1]), at)
                )
        return checklist

    def _part(self, whole: Entry, part: Entry) -> None:
        """Put an item or line in; its name stands once."""
        first = whole.parts.setdefault(part.id, part)
        if first is not part:
            self._fault(
                part.at,
                f"{part.id} stands twice in {whole.id}",
                f"once; the first is at {first.at.place(key=True)}",
            )

    def _word(self, name: Key, spot: Spot) -> None:
        """An id can be written in a condition."""
        if not re.fullmatch(WORD, str(name)):
            self._fault(spot, f"{name} cannot be a name here", "a word of small letters, digits and _")

    def _entries(self, spot: Spot, what: str) -> Iterator[tuple[Key, Spot]]:
        """The keys of a mapping, each with the spot of its value."""
        data = spot.data
        if isinstance(data, dict):
            yield from ((key, spot.down(key)) for key in data)
        elif data is not None:
            self._fault(spot, f"{what} are not given as a mapping", "a mapping of names to entries")

    def _listed(self, spot: Spot, what: str) -> Iterator[Spot]:
        """The spots of a list's entries."""
        if isinstance(spot.data, list):
            yield from (spot.down(number) for number in range(len(spot.data)))
        elif spot.data is not None:
            self._fault(spot, f"{what} are not given as a list", "a list")

    def _fault(self, spot: Spot, what: str, expected: str = "", hint: str = "") -> None:
        """Note a fault at the key of a spot."""
        self._faults.append(Fault(spot.place(key=True), what, expected, hint))
