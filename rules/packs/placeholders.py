"""Placeholders in texts of a pack: `{signal}`, `{signal.*}` for all signals that match, and `{limit.NAME}`.

    answer: "pumps {fuel.pump.*.switch}, at least {limit.fuel_low} in {fuel.total}"

Takes: a text as written, and a scope.  Gives: faults at their characters, the signals that are shown, and the text with its
limits filled in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from rules.faults import Fault, Place
from rules.language.scope import Scope
from rules.packs.sourced import SourceLocation
from rules.signals.number_format import format_value
from rules.source import hint_of, unknown_fault

BRACES = re.compile(r"\{([^{}]*)\}|[{}]")
LIMIT_PREFIX = "limit."


def placeholder_offsets(text: str) -> Iterator[tuple[str, int]]:
    """Give the name in each placeholder of a text, with its offset."""
    return ((found[1], found.start(1)) for found in BRACES.finditer(text) if found[1] is not None)


def placeholder_faults(text: str, location: SourceLocation, scope: Scope) -> list[Fault]:
    """Check the placeholders of a text, and that a `*` is only in one of them.

    Args:
        text: Text with placeholders.
        location: Place of the text.
        scope: Signals and limits that it may name.
    """
    return [*brace_faults(text, location, scope), *lone_star_faults(text, location)]


def brace_faults(text: str, location: SourceLocation, scope: Scope) -> list[Fault]:
    """Check the placeholders of a text alone; arguments as for `placeholder_faults`."""
    found = (_brace_fault(brace, location, scope) for brace in BRACES.finditer(text))
    return [fault for fault in found if fault is not None]


def lone_star_faults(text: str, location: SourceLocation) -> list[Fault]:
    """Report a `*` outside of the placeholders of a text that is not about one match."""
    at = without_placeholders(text).find("*")
    if at < 0:
        return []
    hint = "a `*` is the match in labels and sentences of a rule that is judged match by match"
    return [
        Fault(location.character_place(at), "this `*` stands for nothing", "a text without a bare `*`", hint)
    ]


def without_placeholders(text: str) -> str:
    """Blank out the placeholders of a text; all else stays at its offset."""
    return BRACES.sub(lambda found: " " * len(found[0]), text)


def _brace_fault(found: re.Match[str], location: SourceLocation, scope: Scope) -> Fault | None:
    """Fault of a placeholder that is no signal or limit, or of an unmatched brace."""
    name = found[1]
    if name is None:
        return Fault(location.character_place(found.start()), "an unmatched brace", "{signal}")
    place = location.character_place(found.start(1))
    if "*" in name:
        return None if _matching_signals(name, scope) else _star_fault(name, place, scope)
    if name.startswith(LIMIT_PREFIX):
        limits = [f"{LIMIT_PREFIX}{limit}" for limit in scope.limits]
        return None if name in limits else unknown_fault(place, "limit", name, limits, "a limit of the pack")
    if name in scope.signals:
        return None
    return unknown_fault(place, "signal", name, scope.signals, "a signal")


def _star_fault(name: str, place: Place, scope: Scope) -> Fault:
    """Fault of a name with a `*` that no signal fits."""
    if name.count("*") > 1:
        return Fault(place, f"{name} has more than one `*`", "one `*` in a name")
    return Fault(place, f"no signal fits {name}", "one signal or more", hint_of(scope.nearest(name)))


def signals_shown(text: str, scope: Scope) -> dict[str, tuple[str, ...]]:
    """Find the signals of each placeholder of a text, without its limits.

    Args:
        text: Text with placeholders.
        scope: Signals; a `*` leaves inoperative ones out, unless it stands for nothing else.
    """
    shown = {}
    for name, _ in placeholder_offsets(text):
        if not name.startswith(LIMIT_PREFIX):
            fits = _matching_signals(name, scope) if "*" in name else (name,)
            shown[name] = tuple(one for one in fits if not scope.is_inoperative(one)) or fits
    return shown


def with_limits(text: str, scope: Scope) -> str:
    """Fill in the limits of a text with their values; one that is unknown stays."""

    def value(found: re.Match[str]) -> str:
        name = found[1] or ""
        limit = scope.limits.get(name.removeprefix(LIMIT_PREFIX)) if name.startswith(LIMIT_PREFIX) else None
        return found[0] if limit is None else format_value(limit.value, limit.unit)

    return BRACES.sub(value, text)


def _matching_signals(name: str, scope: Scope) -> tuple[str, ...]:
    """Signals that a name with a `*` can mean."""
    found = (name.replace("*", word) for word in scope.matching_words(name)) if name.count("*") == 1 else ()
    return tuple(signal for signal in found if signal in scope.signals)
