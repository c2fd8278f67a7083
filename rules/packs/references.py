"""References of a pack to its own entries: phases, seats, items and needs; and circular references.

Takes: the validated pack.  Gives: the entries that names refer to, and a fault for each unknown name.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from types import MappingProxyType

from rules.faults import Fault
from rules.packs.model import SPEAKERS
from rules.packs.schema import ExpectationForm, WatchForm
from rules.packs.sourced import PackEntry, SourceLocation
from rules.packs.validated import ValidatedPack, judges_itself
from rules.source import unknown_fault
from rules.words import join_or

BOTH = "both"
_ARTICLE = {"flow": "a flow", "checklist": "a checklist", "item": "an item"}


class References:
    """Looks up names and reports unknown ones."""

    def __init__(
        self,
        validated: ValidatedPack,
        faults: list[Fault],
        matches: Mapping[str, Collection[str]] = MappingProxyType({}),
    ) -> None:
        """Look up names of a pack.

        Args:
            validated: The pack.
            faults: List to which faults are added.
            matches: Ids of the matches of each item that is judged match by match.
        """
        self._validated = validated
        self._faults = faults
        self._matches = matches
        self.item_ids = [*validated.labels, *(one for ids in matches.values() for one in ids)]

    def check(self) -> None:
        """Check all plain references: seats, phases and speakers."""
        validated = self._validated
        seats, phases = validated.ids("seats"), validated.ids("phases")
        for call in validated.calls.values():
            self.is_known(call.form.by, [*SPEAKERS, *seats], call.entry.field_location("by"), "speaker")
        for flow in validated.flows.values():
            self.is_known(flow.form.phase, phases, flow.entry.field_location("phase"), "phase")
        for item in validated.items.values():
            self._check_flow_seat(item.form.seat, item.entry.field_location("seat"), seats)
            self._check_owner(item.form, item.entry, seats)
            self._check_told_by(item.form, item.entry)
        for checklist in validated.checklists.values():
            self.is_known(
                checklist.form.read_by, [*seats, BOTH], checklist.entry.field_location("read_by"), "seat"
            )
        for line in validated.lines.values():
            self.is_known(line.form.seat, seats, line.entry.field_location("seat"), "seat")
            self._check_owner(line.form, line.entry, seats)
            self._check_told_by(line.form, line.entry)
        for watch in validated.watches.values():
            self.is_known(watch.form.seat, seats, watch.entry.field_location("seat"), "seat")
            self._check_owner(watch.form, watch.entry, seats)
            self.known_names(watch.form.phases, phases, watch.entry.field_location("phases"), "phase")
        for phase in validated.phases.values():
            self.is_known(phase.form.before, phases, phase.entry.field_location("before"), "phase")
        self._check_needs_of_invalid()

    def _check_needs_of_invalid(self) -> None:
        """Check the needs of gates that do not fit their form."""
        for _, entry in self._validated.invalid_entries:
            given = entry.fields.get("needs")
            if given is not None and isinstance(given.value, list):
                self.needed_items((need for need in given.value if isinstance(need, str)), given.location)

    def is_known(self, name: str | None, among: Collection[str], location: SourceLocation, kind: str) -> bool:
        """True if a name is known or None; otherwise report it."""
        if name is None or name in among:
            return True
        self._faults.append(
            self._removal_fault(location, kind, name) or unknown_fault(location.place(), kind, name, among)
        )
        return False

    def _removal_fault(self, location: SourceLocation, kind: str, name: str) -> Fault | None:
        """Fault of a name that an extending pack removed, at its own line; None for a name that was never known."""
        section, *parts = (name if kind.endswith("item") else f"{kind}.{name}").split(".")
        section = "watches" if section == "watch" else f"{section}s"
        paths = (".".join([section, *parts[:count]]) for count in range(1, len(parts) + 1))
        for path in paths:
            if (removal := self._validated.layer.removed.get(path)) is not None:
                what = f"{name} is removed here, and still named at {location.place()}"
                expected, hint = "no name that refers to it", "replace the entry that names it too"
                return Fault(removal.place(key=True), what, expected, hint)
        return None

    def known_names(
        self, names: Iterable[str], among: Collection[str], location: SourceLocation, kind: str
    ) -> tuple[str, ...]:
        """Known names of a list; the others are reported."""
        return tuple(
            name
            for number, name in enumerate(names)
            if self.is_known(name, among, location.child(number), kind)
        )

    def _check_owner(
        self, form: ExpectationForm | WatchForm, entry: PackEntry, seats: Collection[str]
    ) -> None:
        """Report an owner that is neither a seat nor a speaker of calls."""
        self.is_known(form.owner, [*SPEAKERS, *seats], entry.field_location("owner"), "owner")

    def _check_told_by(self, form: ExpectationForm, entry: PackEntry) -> None:
        """Report what tells the same fact, and is neither a watch nor an item."""
        among = [*(f"watch.{name}" for name in self._validated.watches), *self.item_ids]
        self.known_names(form.told_by, among, entry.field_location("told_by"), "watch or item")

    def _check_flow_seat(self, seat: str, location: SourceLocation, seats: Collection[str]) -> None:
        """Report a key of a flow that is no seat as a mistyped key."""
        place = location.place(key=True)
        if seat not in seats and not any(fault.place == place for fault in self._faults):
            among = ["title", "phase", *seats]
            self._faults.append(unknown_fault(place, "seat", seat, among, join_or(seats)))

    def followed_items(self, flow: str, names: Iterable[str], location: SourceLocation) -> tuple[str, ...]:
        """Whole ids of the items that come first; they are written as keys of the same flow, or as whole ids."""
        keys = self._validated.layer.sections["flows"][flow].parts
        found: list[str] = []
        for number, name in enumerate(names):
            among = self.item_ids if "." in name else keys
            if self.is_known(name, among, location.child(number), "item"):
                found.extend(self.matches_of(name if "." in name else f"flow.{flow}.{name}"))
        return tuple(found)

    def matches_of(self, item: str) -> Collection[str]:
        """Ids of the matches of an item; the item itself where it has none."""
        return self._matches.get(item, (item,))

    def needed_items(self, names: Iterable[str], location: SourceLocation) -> tuple[str, ...]:
        """Items that a gate needs, each once."""
        found = (
            item
            for number, name in enumerate(names)
            for item in self._items_of_need(name, location.child(number))
        )
        return tuple(dict.fromkeys(found))

    def _items_of_need(self, need: str, location: SourceLocation) -> Iterator[str]:
        """Items of one need: `flow NAME`, `checklist NAME` or `item ID`."""
        kind, _, name = need.partition(" ")
        among = {
            "flow": self._validated.ids("flows"),
            "checklist": self._validated.ids("checklists"),
            "item": self.item_ids,
        }.get(kind)
        if among is None:
            self._faults.append(
                Fault(location.place(), f"'{need}' is not a need", "flow NAME, checklist NAME or item ID")
            )
        elif name not in among:
            place = location.character_place(len(kind) + 1)
            self._faults.append(
                self._removal_fault(location, kind, name)
                or unknown_fault(place, kind, name, among, f"the id of {_ARTICLE[kind]}")
            )
        else:
            items = [name] if kind == "item" else self.items_of(kind, name)
            yield from (match for item in items for match in self.matches_of(item))

    def items_of(self, kind: str, name: str) -> Iterator[str]:
        """Items of a flow, or those that a checklist reads and has."""
        for key, part in self._validated.layer.sections[f"{kind}s"][name].parts.items():
            if kind == "flow" or judges_itself(part):
                yield f"{kind}.{name}.{key}"
            if "items" in part.fields and isinstance(read := part.fields["items"].value, list):
                yield from map(str, read)


def cycles(graph: Mapping[str, Collection[str]]) -> list[tuple[str, ...]]:
    """Find each item that refers to itself directly or indirectly, with the shortest circle.

    Args:
        graph: References of each item.

    Returns:
        For each item in a circle the path from it back to it, in the order of the graph.
    """
    found = (_shortest_cycle(start, graph) for start in graph)
    return [path for path in found if path]


def _shortest_cycle(start: str, graph: Mapping[str, Collection[str]]) -> tuple[str, ...]:
    """Shortest path from an item back to itself, () for none."""
    previous: dict[str, str] = {}
    edge = [start]
    while edge and start not in previous:
        step = {after: before for before in edge for after in graph.get(before, ()) if after not in previous}
        previous |= step
        edge = list(step)
    if start not in previous:
        return ()
    path = [start, previous[start]]
    while path[-1] != start:
        path.append(previous[path[-1]])
    return tuple(reversed(path))
