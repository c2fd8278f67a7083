"""Decides of which speakers every call is entered, so that a call that is missing was not made.

    declared               entered so far                           the captain's calls   the first officer's
    captain                nothing                                  unknown               unknown
    captain                one call, of anybody                     known                 unknown
    nothing                two calls of the captain                 unknown               unknown
    nothing                three calls of the captain               known                 unknown

Takes: calls as they are entered and undone.  Gives: the speakers whose calls are known.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping

REGULAR_CALLS = 3
"""Entries of a speaker's calls from which it is taken that all of them are entered.  Chosen by us, no source."""
ALL_SPEAKERS = "all"
"""Word that declares every speaker."""


class CallAvailability:
    """The speakers whose calls are entered.

    `speakers` has the speaker of each call; `declared` are those whose calls are entered by the trip sheet, None where it
    does not say; `entered` is True where all calls are known from the beginning.
    """

    def __init__(
        self, speakers: Mapping[str, str], declared: Collection[str] | None = None, *, entered: bool = False
    ) -> None:
        self._speakers = speakers
        self._declared = None if declared is None else frozenset(declared)
        self._entered = entered
        self._counts: Counter[str] = Counter()

    def is_known(self, call: str) -> bool:
        """True where a call that was not entered was not made."""
        if self._entered:
            return True
        speaker = self._speakers.get(call, "")
        if self._declared is None:
            return self._counts[speaker] >= REGULAR_CALLS
        return self._counts.total() > 0 and not self._declared.isdisjoint((speaker, ALL_SPEAKERS))

    def add(self, calls: Iterable[str]) -> None:
        """Count entries."""
        self._counts.update(self._speakers.get(call, "") for call in calls)

    def remove(self, call: str) -> None:
        """Do not count the latest entry of a call any more."""
        self._counts[self._speakers.get(call, "")] -= 1
