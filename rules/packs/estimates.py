"""Estimates: yes or no, or a number, from the best signals that are received, for phases where a signal is missing.

    estimates:
      in_air:
        label: the aeroplane is in the air
        from:
          - is: flight.on_ground is no                      # received: this decides
          - {yes: flight.airspeed > 200 kt, no: flight.ground_speed < 40 kt for 5 s}

Takes: the forms of `estimates:`, and the names of the pack.  Gives: `EstimateRule` by name, and faults.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.faults import Fault, InputFaults
from rules.language import syntax
from rules.language.check import AllInoperative, check, check_quantity
from rules.language.parser import ParseError, parse, parse_term
from rules.language.scope import EstimateRule, EstimateSource, Scope
from rules.packs.schema import EstimateForm, EstimateSourceForm
from rules.packs.sourced import SourceLocation
from rules.packs.validated import FilledForm, ValidatedPack
from rules.signals import units

_KINDS = (("is",), ("yes", "no"), ("value",), ("least", "most"))
_NUMBERS = frozenset({"value", "least", "most"})
_EXPECTED = "is, or yes and no, or value and doubt, or least and most"


def build_estimates(validated: ValidatedPack, faults: list[Fault]) -> dict[str, EstimateRule]:
    """Parse the estimates of a pack; those with a fault are left out.

    Args:
        validated: The validated pack.
        faults: List to which faults are added.
    """
    built = ((name, _rule(filled, faults)) for name, filled in validated.estimates.items())
    return {name: rule for name, rule in built if rule is not None}


def check_estimates(validated: ValidatedPack, scope: Scope, faults: list[Fault]) -> None:
    """Check each condition and term of the estimates by itself: its names, units and words.

    Args:
        validated: The validated pack.
        scope: All names of the pack.
        faults: List to which faults are added.
    """
    for name, filled in validated.estimates.items():
        if name in scope.estimates:
            for number, form in enumerate(filled.form.sources):
                at = filled.entry.field_location("from").child(number)
                faults.extend(_condition_faults(form, at, scope))
                faults.extend(_term_faults(form, at, scope, filled.form.unit or "1"))


def _condition_faults(form: EstimateSourceForm, at: SourceLocation, scope: Scope) -> Iterator[Fault]:
    """Faults of the conditions of a source."""
    for key in ("is", "yes", "no", "while"):
        text = _text(form, key)
        if text is not None:
            try:
                check(text, scope, at.child(key).character_place)
            except InputFaults as error:
                yield from error.faults
            except AllInoperative:
                continue


def _term_faults(form: EstimateSourceForm, at: SourceLocation, scope: Scope, unit: str) -> Iterator[Fault]:
    """Faults of the terms of a source."""
    for key in ("value", "doubt", "least", "most"):
        text = _text(form, key)
        if text is not None:
            yield from check_quantity(text, scope, at.child(key).character_place, unit)


def _rule(filled: FilledForm[EstimateForm], faults: list[Fault]) -> EstimateRule | None:
    """Build the rule of an estimate; None after a fault."""
    before, at = len(faults), filled.entry.field_location("from")
    kinds = {_is_number(form, at.child(number), faults) for number, form in enumerate(filled.form.sources)}
    if len(faults) == before:
        faults.extend(_kind_faults(filled, kinds))
    sources = tuple(
        _source(form, at.child(number), faults) for number, form in enumerate(filled.form.sources)
    )
    return EstimateRule(filled.form.label, True in kinds, sources) if len(faults) == before else None


def _kind_faults(filled: FilledForm[EstimateForm], kinds: set[bool]) -> Iterator[Fault]:
    """Faults of an estimate whose sources give different kinds, or whose unit does not fit them."""
    unit, entry = filled.form.unit, filled.entry
    place = entry.location.place(key=True)
    if len(kinds) > 1:
        yield Fault(place, "some sources give yes or no, and some a number", "one kind")
    elif True in kinds and unit is None:
        yield Fault(place, "a number without a unit", "unit: such as ft; 1 for none")
    elif True not in kinds and unit is not None:
        yield Fault(entry.field_location("unit").place(), "yes or no has no unit", "no unit")
    elif unit is not None and not units.is_known(unit):
        yield Fault(
            entry.field_location("unit").place(),
            f"unknown unit {unit}",
            "a unit such as ft",
            units.unit_hint(unit),
        )


def _is_number(form: EstimateSourceForm, at: SourceLocation, faults: list[Fault]) -> bool:
    """True if a source gives a number; a fault where its keys do not go together."""
    given = [key for keys in _KINDS for key in keys if _text(form, key) is not None]
    kinds = [keys for keys in _KINDS if not set(keys).isdisjoint(given)]
    if len(kinds) != 1 or (form.doubt is not None and form.value is None):
        faults.append(Fault(at.place(), "the keys of this source do not go together", _EXPECTED))
    return bool(_NUMBERS.intersection(given))


def _text(form: EstimateSourceForm, key: str) -> str | None:
    """Text of a source under one of its keys."""
    text: str | None = getattr(form, {"is": "is_true", "while": "while_true"}.get(key, key))
    return text


def _source(form: EstimateSourceForm, at: SourceLocation, faults: list[Fault]) -> EstimateSource:
    """Parse a source."""
    conditions = {
        key: _parsed(text, at.child(key), faults)
        for key in ("is", "yes", "no", "while")
        if (text := _text(form, key)) is not None
    }
    terms = {
        key: _parsed_term(text, at.child(key), faults)
        for key in ("value", "doubt", "least", "most")
        if (text := _text(form, key)) is not None
    }
    yes, no = conditions.get("yes"), conditions.get("no")
    if (claim := conditions.get("is")) is not None:
        yes, no = claim, syntax.NotExpr(claim)
    least, most = terms.get("least"), terms.get("most")
    if (value := terms.get("value")) is not None:
        doubt = terms.get("doubt")
        least, most = (value if doubt is None else syntax.SumExpr(value, sign, doubt) for sign in "-+")
    return EstimateSource(yes, no, least, most, conditions.get("while"))


def _parsed(text: str, at: SourceLocation, faults: list[Fault]) -> syntax.ConditionExpr | None:
    """Parse a condition; None after a fault."""
    try:
        return parse(text)
    except ParseError as problem:
        faults.append(_fault(problem, at))
        return None


def _parsed_term(text: str, at: SourceLocation, faults: list[Fault]) -> syntax.TermExpr | None:
    """Parse a term; None after a fault."""
    try:
        return parse_term(text)
    except ParseError as problem:
        faults.append(_fault(problem, at))
        return None


def _fault(problem: ParseError, at: SourceLocation) -> Fault:
    return Fault(at.character_place(problem.offset), problem.what, problem.expected, problem.hint)
