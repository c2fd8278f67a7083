"""Answers of a checklist: each names the state that is seen, and each placeholder is a signal.

An answer gives the status or value that was seen; "checked" or "set" says only that somebody looked:
Degani and Wiener, Human Factors of Flight-Deck Checklists, NASA CR-177549 (1990).

Takes: an answer as written.  Gives: faults.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from rules.faults import Fault
from rules.packs.sourced import SourceLocation
from rules.source import unknown_fault

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
_BRACES = re.compile(r"\{([^{}]*)\}|[{}]")


def answer_faults(answer: str, location: SourceLocation, signals: Collection[str]) -> list[Fault]:
    """Check an answer.

    Args:
        answer: Text with `{signal}` where a value is read out.
        location: Place of the answer.
        signals: Names of all signals.
    """
    words = re.findall(r"\w+", _BRACES.sub(" x ", answer.casefold()))
    if not words or _UNSPECIFIC_WORDS.issuperset(words):
        what = f"the answer '{answer}' does not name the state" if answer.strip() else "the answer is empty"
        hint = "name the state, or give the value as {signal} (Degani and Wiener, NASA CR-177549)"
        return [Fault(location.place(), what, "the state or value", hint)]
    return placeholder_faults(answer, location, signals)


def placeholder_faults(text: str, location: SourceLocation, signals: Collection[str]) -> list[Fault]:
    """Check the placeholders of a text.

    Args:
        text: Text with `{signal}` where a value is read out.
        location: Place of the text.
        signals: Names of all signals.
    """
    return [
        fault for found in _BRACES.finditer(text) if (fault := _placeholder_fault(found, location, signals))
    ]


def _placeholder_fault(
    found: re.Match[str], location: SourceLocation, signals: Collection[str]
) -> Fault | None:
    """Fault of a placeholder that is no signal, or of an unmatched brace."""
    name = found[1]
    if name is None:
        return Fault(location.character_place(found.start()), "an unmatched brace", "{signal}")
    if name in signals:
        return None
    return unknown_fault(location.character_place(found.start(1)), "signal", name, signals, "a signal")
