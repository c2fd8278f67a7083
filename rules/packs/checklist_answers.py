"""Answers of a checklist: each names the state that is seen, and each placeholder is a signal.

An answer gives the status or value that was seen; "checked" or "set" says only that somebody looked:
Degani and Wiener, Human Factors of Flight-Deck Checklists, NASA CR-177549 (1990).

Takes: an answer as written.  Gives: faults, and the signals that it shows.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from rules.faults import Fault, Place
from rules.language.scope import Scope
from rules.packs.sourced import SourceLocation
from rules.source import hint_of, unknown_fault

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


def answer_faults(answer: str, location: SourceLocation, scope: Scope) -> list[Fault]:
    """Check an answer.

    Args:
        answer: Text with `{signal}` where a value is read out; a `*` in it is a word of a signal's name.
        location: Place of the answer.
        scope: Signals that it may name.
    """
    words = re.findall(r"\w+", _BRACES.sub(" x ", answer.casefold()))
    if not words or _UNSPECIFIC_WORDS.issuperset(words):
        what = f"the answer '{answer}' does not name the state" if answer.strip() else "the answer is empty"
        hint = "name the state, or give the value as {signal} (Degani and Wiener, NASA CR-177549)"
        return [Fault(location.place(), what, "the state or value", hint)]
    stars = {found[1]: found.start(1) for found in _BRACES.finditer(answer) if found[1] and "*" in found[1]}
    return [
        *placeholder_faults(answer, location, scope.signals.keys() | stars.keys()),
        *(_star_fault(name, location.character_place(at), scope) for name, at in stars.items()
          if not _matching_signals(name, scope)),
    ]  # fmt: skip


def _star_fault(name: str, place: Place, scope: Scope) -> Fault:
    """Fault of a name with a `*` that no signal fits."""
    if name.count("*") > 1:
        return Fault(place, f"{name} has more than one `*`", "one `*` in a name")
    return Fault(place, f"no signal fits {name}", "one signal or more", hint_of(scope.nearest(name)))


def placeholder_offsets(answer: str) -> Iterator[tuple[str, int]]:
    """Give each placeholder of an answer, with the offset of its name in the text."""
    return ((found[1], found.start(1)) for found in _BRACES.finditer(answer) if found[1] is not None)


def signals_shown(answer: str, scope: Scope) -> dict[str, tuple[str, ...]]:
    """Find the signals of each placeholder of an answer.

    Args:
        answer: Text with placeholders.
        scope: Signals; a `*` leaves inoperative ones out, unless it stands for nothing else.
    """
    shown = {}
    for name, _ in placeholder_offsets(answer):
        fits = _matching_signals(name, scope) if "*" in name else (name,)
        shown[name] = tuple(one for one in fits if not scope.is_inoperative(one)) or fits
    return shown


def _matching_signals(name: str, scope: Scope) -> tuple[str, ...]:
    """Signals that a name with a `*` can mean."""
    found = (name.replace("*", word) for word in scope.matching_words(name)) if name.count("*") == 1 else ()
    return tuple(signal for signal in found if signal in scope.signals)


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
