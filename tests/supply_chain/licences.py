"""Checks the licences of a bill of materials against `licences.yaml`.

Takes: the components of a CycloneDX document.  Gives: a text for each component that may not be used.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from license_expression import ExpressionError, LicenseExpression, get_spdx_licensing
from ruamel.yaml import YAML

RULES = Path(__file__).with_name("licences.yaml")


class LicenceRules(NamedTuple):
    """What `licences.yaml` says."""

    allowed: frozenset[str]
    names: Mapping[str, str]
    exceptions: Mapping[str, Mapping[str, str]]


def read_rules() -> LicenceRules:
    """Give the rules of `licences.yaml`."""
    data = YAML(typ="safe").load(RULES)
    return LicenceRules(frozenset(data["allowed"]), data["names"], data["exceptions"])


def refused(components: Iterable[Mapping[str, Any]], rules: LicenceRules) -> list[str]:
    """Give a text for each component whose licence is not allowed and has no exception."""
    return [
        f"{part['name']} {part.get('version', '')}: {' and '.join(stated(part, rules)) or 'states no licence'}"
        f"; expected one of the allowed licences, or an exception with a reason in {RULES.name}"
        for part in components
        if part["name"] not in rules.exceptions and not is_allowed(stated(part, rules), rules)
    ]


def unused(components: Iterable[Mapping[str, Any]], rules: LicenceRules) -> list[str]:
    """Give the exceptions that no component needs any more."""
    needed = {part["name"] for part in components if not is_allowed(stated(part, rules), rules)}
    return sorted(rules.exceptions.keys() - needed)


def stated(component: Mapping[str, Any], rules: LicenceRules) -> list[str]:
    """Give the licences that a component states, each as an SPDX expression where it is known."""
    entries = component.get("licenses", ())
    texts = [
        entry.get("expression") or entry["license"].get("id") or entry["license"]["name"] for entry in entries
    ]
    return list(dict.fromkeys(rules.names.get(text, text) for text in texts))


def is_allowed(expressions: list[str], rules: LicenceRules) -> bool:
    """Tell whether each stated expression can be kept with allowed licences only."""
    return bool(expressions) and all(_is_kept(text, rules.allowed) for text in expressions)


def _is_kept(text: str, allowed: frozenset[str]) -> bool:
    """An `OR` needs one allowed side, an `AND` all of them; a text that is no expression is not allowed."""
    try:
        expression = get_spdx_licensing().parse(text, validate=True)
    except ExpressionError:
        return False
    return _holds(expression, allowed)


def _holds(expression: LicenseExpression, allowed: frozenset[str]) -> bool:
    sides = getattr(expression, "args", ())
    if not sides:
        return str(expression) in allowed
    combine = any if expression.operator == " OR " else all
    return combine(_holds(side, allowed) for side in sides)
