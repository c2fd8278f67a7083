"""Entries of a pack, with the place of each key, so that packs can be merged.

Takes: sources.  Gives: `SourceLocation`, `SourcedValue`, `PackEntry`, and an entry checked against its form.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from rules.faults import Fault, Place
from rules.source import Key, PlainData, SourceDocument, faults_at, hint_of

Form = TypeVar("Form", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class SourceLocation:
    """Location of one value in one file."""

    source: SourceDocument
    path: tuple[Key, ...]

    def place(self, *, key: bool = False) -> Place:
        """Place of the value (or of its key)."""
        return self.source.place(self.path, key=key)

    def character_place(self, offset: int) -> Place:
        """Place of one character of the value."""
        return self.source.place_in_text(self.path, offset)

    def child(self, *parts: Key) -> SourceLocation:
        """Location of a value inside this one."""
        return SourceLocation(self.source, self.path + parts)

    @property
    def data(self) -> PlainData:
        """The value itself."""
        return self.source.value_at(self.path)


@dataclass(frozen=True, slots=True)
class SourcedValue:
    """Value with its location."""

    value: PlainData
    location: SourceLocation


@dataclass(slots=True)
class PackEntry:
    """Contents under one id; `parts` are entries inside it: items of a flow, lines of a checklist.

    `near` is the id of the base pack that a new id of an extending pack is nearest to, '' where none is near.
    """

    id: str
    location: SourceLocation
    fields: dict[str, SourcedValue] = field(default_factory=dict)
    parts: dict[str, PackEntry] = field(default_factory=dict)
    near: str = ""

    def locate(self, path: tuple[Key, ...], key: bool) -> Place:  # noqa: FBT001 - the shape of a `Locate`
        """Place of a value of this entry, in whichever pack it is; the entry itself for a missing value."""
        if path and path[0] in self.fields:
            return self.fields[str(path[0])].location.child(*path[1:]).place(key=key)
        return self.location.place(key=True)

    def field_location(self, name: str) -> SourceLocation:
        """Location of a field; the entry itself where the field is missing."""
        return self.fields[name].location if name in self.fields else self.location


def entry_from_mapping(name: str, location: SourceLocation, keys: Iterable[str] | None = None) -> PackEntry:
    """Make an entry from a mapping.

    Args:
        name: Id of the entry.
        location: Location of the mapping; any other value gives no fields.
        keys: Keys to use; None for all.
    """
    data = location.data if isinstance(location.data, dict) else {}
    chosen = data if keys is None else {key: data[key] for key in keys if key in data}
    return PackEntry(
        name, location, {str(key): SourcedValue(value, location.child(key)) for key, value in chosen.items()}
    )


def check_form(entry: PackEntry, form: type[Form], faults: list[Fault]) -> Form | None:
    """Check an entry against its form.

    Args:
        entry: The entry.
        form: Type of the form.
        faults: List to which faults are added.

    Returns:
        The form; None where the entry does not fit.
    """
    try:
        return form.model_validate({name: given.value for name, given in entry.fields.items()})
    except ValidationError as error:
        faults.extend(_with_near(fault, entry.near) for fault in faults_at(error, entry.locate, form))
        return None


def _with_near(fault: Fault, near: str) -> Fault:
    """Add the nearest id of the base to the fault of a missing key: the entry may be meant to change that one."""
    missing = fault.what.endswith("is missing") and not fault.hint
    return replace(fault, hint=hint_of(near)) if missing else fault
