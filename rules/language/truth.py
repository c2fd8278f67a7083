"""Three-valued truth, and the reason for it.

Takes: nothing.  Gives: `Truth` (True, False or None for unknown) and `Reason`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

Truth: TypeAlias = bool | None
"""True, False, or None for unknown: stale, invalid, absent, or too little data (Kleene's third value)."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Reason for a condition's truth: a tree that becomes one sentence.

    `sentence` is the whole sentence ("left aft fuel pump is off, needs on"); `actual` and `wanted` are its
    two halves for the record ('' where there is no single pair); `signals` are the names that
    decided; `parts` are the reasons of the sub-conditions that decided.  `in_gap` is True where it is unknown because data
    are missing from its look-back; `passes` where it will be known again once the gap has left the look-back.  `holding` is
    True where it is not true only because what holds now has not been seen to hold for its time yet.
    """

    truth: Truth
    sentence: str
    actual: str = ""
    wanted: str = ""
    signals: tuple[str, ...] = ()
    parts: tuple[Reason, ...] = ()
    in_gap: bool = False
    passes: bool = False
    holding: bool = False

    @property
    def data_missing(self) -> bool:
        """True where data are missing from the look-back of the condition, or of a part that decided."""
        return self.in_gap or any(part.data_missing for part in self.parts if part.truth is None)

    @property
    def missing_for_good(self) -> bool:
        """True where data are missing, and time alone will not make it known."""
        lasting = any(part.missing_for_good for part in self.parts if part.truth is None)
        return lasting or (self.in_gap and not self.passes)

    @property
    def only_waits(self) -> bool:
        """True where waiting makes it true: it is holding, or false and so are only parts that are."""
        unmet = [part for part in self.parts if part.truth is False]
        return self.holding or (
            self.truth is False and bool(unmet) and all(part.only_waits for part in unmet)
        )
