"""Conditions of a pack, checked one by one: a broken one is kept with its fault, and the rest still runs.

Takes: an entry's field and what its condition may refer to.  Gives: the checked condition, or `Broken`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from rules.faults import Fault, InputFaults
from rules.language.check import AllInoperative, check, items_of, signals_of
from rules.language.checked import Broken, Condition
from rules.language.scope import Scope
from rules.packs.spots import Entry

PAPERS = "trip."
EXCUSED = "dispatched inoperative"
_LIMIT = re.compile(r"\blimit\.(\w+)")
FIELDS = ("condition", "expect", "applies", "cue", "entry", "after", "begins", "ends", "when")
"""The fields that hold a condition, in whatever form they are."""


class Conditions:
    """Checks conditions in one scope; `broken` collects their faults."""

    def __init__(self, scope: Scope, broken: list[Fault], misfits: Iterable[str] = ()) -> None:
        """Keep the scope, and the limits that are not in it because they are at fault themselves."""
        self._scope = scope
        self._misfits = frozenset(misfits)
        self._broken = broken

    def of(self, entry: Entry, name: str, local: str = "") -> Condition | None:
        """The condition under a field, None where none is given.

        Args:
            entry: where it stands.
            name: the field.
            local: the flow whose items may be named in short.
        """
        return self.of_item(entry, name, local)[0]

    def of_item(self, entry: Entry, name: str, local: str = "") -> tuple[Condition | None, str]:
        """As `of`, with the reason why nobody can be asked for it, '' where somebody can."""
        given = entry.fields.get(name)
        if given is None or not isinstance(given.value, str):
            return None, ""
        scope = replace(self._scope, local=local)
        try:
            condition = check(given.value, scope, given.spot.inside)
        except AllInoperative:
            return check(given.value, replace(scope, inoperative=()), given.spot.inside), EXCUSED
        except InputFaults as error:
            # A limit that is at fault itself is told once, where it stands, not wherever it is used.
            if self._misfits.isdisjoint(_LIMIT.findall(given.value)):
                self._broken.extend(error.faults)
            return Broken(error.faults[0]), ""
        return condition, EXCUSED if self._is_inoperative(condition) else ""

    def check_all(self, entries: Iterable[tuple[str, Entry]]) -> None:
        """Look for faults in the conditions of entries that cannot be used, so that they are told all the same.

        Args:
            entries: each with the flow whose items its conditions may name in short.
        """
        for local, entry in entries:
            for name in FIELDS:
                self.of(entry, name, local)

    def _is_inoperative(self, condition: Condition) -> bool:
        """Whether all that it reads of the aeroplane is dispatched inoperative, and it reads something."""
        reads = [name for name in signals_of(condition) if not name.startswith(PAPERS)]
        return bool(reads) and not items_of(condition) and all(map(self._scope.is_inoperative, reads))
