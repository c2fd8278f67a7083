"""Entries: what a pack says under one id, with the place of each of its keys, so that packs can be laid over each other.

Takes: sources.  Gives: `Spot`, `Given`, `Entry`, and an entry checked against its form.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from rules.faults import Fault, Place
from rules.source import Key, PlainData, SourceDocument, faults_at

Form = TypeVar("Form", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class SourceLocation:
    """One value in one file."""

    source: SourceDocument
    path: tuple[Key, ...]

    def place(self, *, key: bool = False) -> Place:
        """Where the value (or its key) stands."""
        return self.source.place(self.path, key=key)

    def character_place(self, offset: int) -> Place:
        """Where one character of the value stands."""
        return self.source.place_in_text(self.path, offset)

    def child(self, *parts: Key) -> SourceLocation:
        """A value inside this one."""
        return SourceLocation(self.source, self.path + parts)

    @property
    def data(self) -> PlainData:
        """The value itself."""
        return self.source.value_at(self.path)


@dataclass(frozen=True, slots=True)
class SourcedValue:
    """A value and where it was given."""

    value: PlainData
    location: SourceLocation


@dataclass(slots=True)
class PackEntry:
    """What stands under one id.  `parts` are entries inside it: items of a flow, lines of a checklist."""

    id: str
    location: SourceLocation
    fields: dict[str, SourcedValue] = field(default_factory=dict)
    parts: dict[str, PackEntry] = field(default_factory=dict)

    def locate(self, path: tuple[Key, ...], key: bool) -> Place:  # noqa: FBT001 - the shape of a `Locate`
        """Where a value of this entry stands, whichever pack gave it; the entry itself for what is missing."""
        if path and path[0] in self.fields:
            return self.fields[str(path[0])].location.child(*path[1:]).place(key=key)
        return self.location.place(key=True)

    def field_location(self, name: str) -> SourceLocation:
        """Where a field stands; the entry itself where it was not given."""
        return self.fields[name].location if name in self.fields else self.location


def entry_from_mapping(name: str, location: SourceLocation, keys: Iterable[str] | None = None) -> PackEntry:
    """Make an entry of a mapping.

    Args:
        name: its id.
        location: where the mapping stands; anything but a mapping gives no fields.
        keys: the keys to take; all, if None.
    """
    data = location.data if isinstance(location.data, dict) else {}
    chosen = data if keys is None else {key: data[key] for key in keys if key in data}
    return PackEntry(
        name, location, {str(key): SourcedValue(value, location.child(key)) for key, value in chosen.items()}
    )


def check_form(entry: PackEntry, form: type[Form], faults: list[Fault]) -> Form | None:
    """Check an entry against its form.

    Args:
        entry: what was given.
        form: what it must be.
        faults: where faults are added.

    Returns:
        The form filled in; None where it does not fit.
    """
    try:
        return form.model_validate({name: given.value for name, given in entry.fields.items()})
    except ValidationError as error:
        faults.extend(faults_at(error, entry.locate, form))
        return None
