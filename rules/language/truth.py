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
    decided; `parts` are the reasons of the sub-conditions that decided.
    """

    truth: Truth
    sentence: str
    actual: str = ""
    wanted: str = ""
    signals: tuple[str, ...] = ()
    parts: tuple[Reason, ...] = ()
