"""Three-valued truth, and the reason for it.

Takes: nothing.  Gives: `Truth` (True, False or None for unknown) and `Reason`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

Truth: TypeAlias = bool | None
"""True, False, or None for unknown: stale, invalid, absent, or too little data (Kleene's third value)."""


_MOMENT_S = 2.0
"""A wait of at most so many seconds is not worth a word.  Chosen by us, no source: it takes as long to say."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Reason for a condition's truth: a tree that becomes one sentence.

    `sentence` is the whole sentence ("left aft fuel pump is off"); `actual` and `wanted` are its
    two halves for the record ('' where there is no single pair); `signals` are the names that
    decided; `parts` are the reasons of the sub-conditions that decided.  `in_gap` is True where it is unknown because data
    are missing from its look-back; `passes` where it will be known again once the gap has left the look-back.  `holding` is
    True where it is not true only because what holds now has not been seen to hold for its time yet, of which
    `left_s` are left.  `remark` is the likely
    entry error of a wrong value ("3 typed for 8?"), which is also in the sentence.
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
    left_s: float = 0.0
    remark: str = ""

    @property
    def entry_error(self) -> str:
        """Remark of this reason, or the first of the parts that decided."""
        return self.remark or next((part.entry_error for part in self.parts if part.truth is self.truth), "")

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
    def soon_true(self) -> bool:
        """True where waiting a moment makes it true, in which a crew can do nothing about it."""
        return self.only_waits and self.wait_s <= _MOMENT_S

    @property
    def wait_s(self) -> float:
        """Time that is left, of the parts that are not true too; 0 where none waits."""
        return max([self.left_s, *(part.wait_s for part in self.parts if part.truth is False)])

    @property
    def only_waits(self) -> bool:
        """True where waiting makes it true: it is holding, or false and so are only parts that are."""
        unmet = [part for part in self.parts if part.truth is False]
        return self.holding or (
            self.truth is False and bool(unmet) and all(part.only_waits for part in unmet)
        )
