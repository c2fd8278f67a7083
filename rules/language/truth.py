"""Three-valued truth and the reason behind it.

Takes: nothing.  Gives: `Truth` (True, False or None for "could not tell") and `Reason`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

Truth: TypeAlias = bool | None
"""True, False, or None: stale, invalid, never seen, or not yet long enough (Kleene's third value)."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a condition is what it is: a tree that turns into one sentence.

    `sentence` says the whole ("left aft fuel pump is off, needs on"); `actual` and `wanted` are its
    two halves for the record ('' where there is no single pair); `signals` are the names that
    decided; `parts` are the reasons of the sub-conditions that decided.
    """

    truth: Truth
    sentence: str
    actual: str = ""
    wanted: str = ""
    signals: tuple[str, ...] = ()
    parts: tuple[Reason, ...] = ()
