"""Items of flows and checklists, with conditions checked and references resolved.

Takes: the validated pack, its references and conditions.  Gives: items by id, and flows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rules.faults import Fault
from rules.language.checked_tree import FaultyCondition
from rules.language.traversal import item_ids, signal_names
from rules.packs.conditions import ConditionChecker, MatchedConditions
from rules.packs.matches import label_faults, match_id, match_label
from rules.packs.model import Flow, Item, declared_id
from rules.packs.own_sentences import own_sentences
from rules.packs.references import BOTH, References, cycles
from rules.packs.schema import ChecklistLineForm, ExpectationForm, ItemForm
from rules.packs.sourced import PackEntry
from rules.packs.validated import FilledForm, ValidatedPack, judges_itself, label_of
from rules.source import hint_of

_ITEM_FIELDS = frozenset(ExpectationForm.model_fields) | {"seat"}


class ItemBuilder:
    """Builds the items of flows and checklists."""

    def __init__(
        self,
        validated: ValidatedPack,
        references: References,
        conditions: ConditionChecker,
        faults: list[Fault],
    ) -> None:
        self._validated = validated
        self._references = references
        self._conditions = conditions
        self._faults = faults

    def build(self, condition_faults: list[Fault]) -> dict[str, Item]:
        """Build every item by its id, flows first.

        Args:
            condition_faults: List to which faults of circular conditions are added.
        """
        built = [
            item for name, filled in self._validated.items.items() for item in self._flow_items(name, filled)
        ]
        built += [
            item for name, line in self._validated.lines.items() for item in self._line_items(name, line)
        ]
        items = {item.id: item for item in built}
        self._refuse_order_cycles(items)
        return self._break_condition_cycles(items, condition_faults)

    def _flow_items(self, name: str, filled: FilledForm[ItemForm]) -> list[Item]:
        """Build an item of a flow, one for each match of its `*`."""
        flow, form, entry = name.split(".")[1], filled.form, filled.entry
        expected = "a condition, or confirm for what no signal shows"
        self._check_expectation(entry, ("condition", "confirm"), expected)
        self._refuse_second(entry, ("condition", "confirm"), expected)
        label = form.label or label_of(entry.id)
        follows = self._references.followed_items(flow, form.follows, entry.field_location("follows"))
        matches = self._conditions.rule(entry, "condition", "after", flow)
        self._faults += label_faults(label, entry.field_location("label"), matches[0])
        return [replace(self._item(name, label, form.seat, filled, one), follows=follows) for one in matches]

    def _line_items(self, name: str, filled: FilledForm[ChecklistLineForm]) -> list[Item]:
        """Build the item of a checklist line's own, one for each match; none where the line only reads items of flows."""
        checklist, form, entry = name.split(".")[1], filled.form, filled.entry
        self._check_expectation(entry, ("expect", "items", "confirm"), "items, expect or confirm")
        self._refuse_second(entry, ("expect", "confirm"), "one of expect and confirm")
        self._check_item_references(entry, form.items)
        if not judges_itself(entry):
            return []
        seat = form.seat or self._checklist_reader(checklist)
        if seat == BOTH:
            place = entry.location.place(key=True)
            self._faults.append(
                Fault(place, "seat is missing", "whose item this is, since both read the list")
            )
        matches = self._conditions.rule(entry, "expect", "after", checklist)
        return [self._item(name, form.challenge, seat, filled, one) for one in matches]

    def _checklist_reader(self, checklist: str) -> str:
        """Seat that reads a checklist; '' where it is unknown."""
        filled = self._validated.checklists.get(checklist)
        return filled.form.read_by if filled else ""

    def _item(
        self,
        name: str,
        label: str,
        seat: str,
        filled: FilledForm[ItemForm] | FilledForm[ChecklistLineForm],
        matched: MatchedConditions,
    ) -> Item:
        """Build the part that is the same for items of flows and of checklists."""
        form: ExpectationForm = filled.form
        word, conditions = matched.match.word, self._conditions
        after_text = form.after or ""
        return Item(
            id=match_id(name, word),
            label=match_label(label, matched.match),
            seat=seat,
            level=form.level,
            condition=matched.main,
            confirm=form.confirm or "",
            after=matched.second,
            after_text=after_text.replace("*", word) if matched.match.shared else after_text,
            why=form.why,
            source=form.source,
            hold_s=form.hold,
            clear_s=form.clear,
            finding=form.finding,
            told_by=tuple(form.told_by),
            owner=form.owner or "",
            waived=matched.waived,
            say=own_sentences(filled.entry, form.say, matched, conditions.scope, self._faults),
            signals=signal_names(matched.main) if matched.main is not None else (),
        )

    def _check_expectation(self, entry: PackEntry, ways: tuple[str, ...], expected: str) -> None:
        """Report an entry that has none of these keys, or only an empty list."""
        if not any(name in entry.fields and entry.fields[name].value != [] for name in ways):
            place = entry.location.place(key=True)
            hint = hint_of(entry.near)
            self._faults.append(Fault(place, f"{entry.id} has nothing to check", expected, hint))

    def _refuse_second(self, entry: PackEntry, ways: tuple[str, str], expected: str) -> None:
        """Report an entry that has both of two keys."""
        if entry.fields.keys() >= set(ways):
            place = entry.fields[ways[1]].location.place(key=True)
            self._faults.append(Fault(place, f"{ways[1]} conflicts with {ways[0]}", expected))

    def _check_item_references(self, entry: PackEntry, items: list[str]) -> None:
        """Check the items that a line reads; keys of an item belong to a condition of the line's own."""
        flows = [name for name in self._references.item_ids if name.startswith("flow.")]
        location = entry.field_location("items")
        self._references.known_names(items, flows, location, "item")
        named: set[str] = set()
        for number, name in enumerate(items):
            matches = self._references.matches_of(name)
            if not named.isdisjoint(matches):
                place = location.child(number).place()
                self._faults.append(Fault(place, f"{name} is named twice", "each item once"))
            named.update(matches)
        for name in () if judges_itself(entry) else sorted(_ITEM_FIELDS & entry.fields.keys()):
            place = entry.fields[name].location.place(key=True)
            what = f"{name} without a condition of the line's own"
            self._faults.append(Fault(place, what, f"{name} at the item itself"))

    def _refuse_order_cycles(self, items: Mapping[str, Item]) -> None:
        """Report items that follow each other in a circle; all matches of an item follow the same ones."""
        follows = {declared_id(name): map(declared_id, item.follows) for name, item in items.items()}
        for path in cycles({name: tuple(dict.fromkeys(others)) for name, others in follows.items()}):
            place = self._entry(path[0]).field_location("follows").place()
            self._faults.append(Fault(place, f"circular order: {' follows '.join(path)}", "a first item"))

    def _break_condition_cycles(
        self, items: dict[str, Item], condition_faults: list[Fault]
    ) -> dict[str, Item]:
        """Replace conditions that read each other in a circle by faulty ones, each with its circle."""
        reads = {name: item_ids(item.condition) for name, item in items.items() if item.condition is not None}
        for path in cycles(reads):
            field = "condition" if path[0].startswith("flow.") else "expect"
            place = self._entry(path[0]).field_location(field).place()
            fault = Fault(place, f"circular reference of items: {' → '.join(path)}", "no circle")
            condition_faults.append(fault)
            items[path[0]] = replace(items[path[0]], condition=FaultyCondition(fault), signals=())
        return items

    def _entry(self, name: str) -> PackEntry:
        """Entry of an item or of one of its matches."""
        declared = declared_id(name)
        return (self._validated.items.get(declared) or self._validated.lines[declared]).entry


def build_flows(validated: ValidatedPack, references: References) -> dict[str, Flow]:
    """Build flows with their items by seat, in the order of the seats; each match is an item."""
    flows = {}
    for name, filled in validated.flows.items():
        flow_items = {key: item for key, item in validated.items.items() if key.startswith(f"flow.{name}.")}
        by_seat = {
            seat: tuple(
                match
                for key, item in flow_items.items()
                if item.form.seat == seat
                for match in references.matches_of(key)
            )
            for seat in validated.seats
        }
        seats = {seat: keys for seat, keys in by_seat.items() if keys}
        flows[name] = Flow(name, filled.form.title, filled.form.phase, seats)
    return flows
