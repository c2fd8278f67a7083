"""Entries: what a pack says under one id, with the place of each of its keys, so that packs can be laid over each other.

Takes: sources.  Gives: `Spot`, `Given`, `Entry`, and an entry checked against its form.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from rules.faults import Fault, Place
from rules.source import Key, Plain, Source, faults_at

Form = TypeVar("Form", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Spot:
    """One value in one file."""

    source: Source
    path: tuple[Key, ...]

    def place(self, *, key: bool = False) -> Place:
        """Where the value (or its key) stands."""
        return self.source.place(self.path, key=key)

    def inside(self, offset: int) -> Place:
        """Where one character of the value stands."""
        return self.source.inside(self.path, offset)

    def down(self, *parts: Key) -> Spot:
        """A value inside this one."""
        return Spot(self.source, self.path + parts)

    @property
    def data(self) -> Plain:
        """The value itself."""
        return self.source.at(self.path)


@dataclass(frozen=True, slots=True)
class Given:
    """A value and where it was given."""

    value: Plain
    spot: Spot


@dataclass(slots=True)
class Entry:
    """What stands under one id.  `parts` are entries inside it: items of a flow, lines of a checklist."""

    id: str
    at: Spot
    fields: dict[str, Given] = field(default_factory=dict)
    parts: dict[str, Entry] = field(default_factory=dict)

    def locate(self, path: tuple[Key, ...], key: bool) -> Place:  # noqa: FBT001 - the shape of a `Locate`
        """Where a value of this entry stands, whichever pack gave it; the entry itself for what is missing."""
        if path and path[0] in self.fields:
            return self.fields[str(path[0])].spot.down(*path[1:]).place(key=key)
        return self.at.place(key=True)

    def spot(self, name: str) -> Spot:
        """Where a field stands; the entry itself where it was not given."""
        return self.fields[name].spot if name in self.fields else self.at


def entry_of(name: str, spot: Spot, keys: Iterable[str] | None = None) -> Entry:
    """Make an entry of a mapping.

    Args:
        name: its id.
        spot: where the mapping stands; anything but a mapping gives no fields.
        keys: the keys to take; all, if None.
    """
    data = spot.data if isinstance(spot.data, dict) else {}
    chosen = data if keys is None else {key: data[key] for key in keys if key in data}
    return Entry(name, spot, {str(key): Given(value, spot.down(key)) for key, value in chosen.items()})


def check_form(entry: Entry, form: type[Form], faults: list[Fault]) -> Form | None:
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
