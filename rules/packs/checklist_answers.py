"""Answers of a checklist: each names the state that is seen, and each placeholder is a signal or a limit.

An answer gives the status or value that was seen; "checked" or "set" says only that somebody looked:
Degani and Wiener, Human Factors of Flight-Deck Checklists, NASA CR-177549 (1990).

Takes: an answer as written.  Gives: faults.
"""

from __future__ import annotations

import re

from rules.faults import Fault
from rules.language.scope import Scope
from rules.packs.placeholders import BRACES, placeholder_faults
from rules.packs.sourced import SourceLocation

_UNSPECIFIC_WORDS = frozenset(
    {
        "checked",
        "check",
        "set",
        "done",
        "complete",
        "completed",
        "ok",
        "okay",
        "verified",
        "and",
        "both",
        "all",
        "is",
        "are",
        "as",
        "required",
    }
)


def answer_faults(answer: str, location: SourceLocation, scope: Scope) -> list[Fault]:
    """Check an answer.

    Args:
        answer: Text with `{signal}` where a value is read out; a `*` in it is a word of a signal's name.
        location: Place of the answer.
        scope: Signals that it may name.
    """
    words = re.findall(r"\w+", BRACES.sub(" x ", answer.casefold()))
    if not words or _UNSPECIFIC_WORDS.issuperset(words):
        what = f"the answer '{answer}' does not name the state" if answer.strip() else "the answer is empty"
        hint = "name the state, or give the value as {signal} (Degani and Wiener, NASA CR-177549)"
        return [Fault(location.place(), what, "the state or value", hint)]
    return placeholder_faults(answer, location, scope)
