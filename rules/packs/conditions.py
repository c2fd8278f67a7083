"""Conditions of a pack, checked one by one: a broken one is kept with its fault, and the rest still runs.

Takes: an entry's field and what its condition may refer to.  Gives: the checked condition, or `Broken`.
"""

from __future__ import annotations

from dataclasses import replace

from rules.faults import Fault, InputFaults
from rules.language.check import AllInoperative, check, items_of, signals_of
from rules.language.checked import Broken, Condition
from rules.language.scope import Scope
from rules.packs.spots import Entry, Spot

PAPERS = "trip."


class Conditions:
    """Checks conditions in one scope; `broken` collects their faults."""

    def __init__(self, scope: Scope, broken: list[Fault]) -> None:
        """Keep the scope; what is inoperative is looked at apart."""
        self._scope = scope
        self._broken = broken

    def of(self, entry: Entry, name: str, local: str = "") -> Condition | None:
        """The condition under a field, None where none is given.

        Args:
            entry: where it stands.
            name: the field.
            local: the flow whose items may be named in short.
        """
        given = entry.fields.get(name)
        if given is None or not isinstance(given.value, str):
            return None
        scope = replace(self._scope, local=local)
        try:
            return _check(given.value, scope, given.spot)
        except InputFaults as error:
            self._broken.extend(error.faults)
            return Broken(error.faults[0])

    def excuse(self, condition: Condition | None) -> str:
        """Why nobody can be asked for this: all that it reads of the aeroplane is dispatched inoperative; else ''."""
        if condition is None or not self._scope.inoperative or items_of(condition):
            return ""
        reads = [name for name in signals_of(condition) if not name.startswith(PAPERS)]
        if not reads or not all(map(self._scope.is_inoperative, reads)):
            return ""
        return "dispatched inoperative"


def _check(text: str, scope: Scope, spot: Spot) -> Condition:
    """Check without those parts of a `*` that are inoperative; with them where none would be left."""
    try:
        return check(text, scope, spot.inside)
    except AllInoperative:
        return check(text, replace(scope, inoperative=()), spot.inside)
