"""Check of one condition: parse, resolve names, convert units, and collect every fault.

Takes: text, the scope of its names, and the places of its characters in the file.
Gives: a checked condition, or `InputFaults`, or `AllInoperative` where nothing is left to check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rules.faults import Fault, HoldshortError, InputFaults, Place
from rules.language import checked_tree
from rules.language.assumptions import with_assumptions
from rules.language.check.conditions import check_condition, check_event
from rules.language.check.context import CheckContext
from rules.language.check.matches import RuleMatch, part_of_match, shared_groups
from rules.language.check.terms import check_term
from rules.language.check.wildcards import share_in_ands
from rules.language.parser import ParseError, parse, parse_or_none, parse_term
from rules.language.scope import Scope
from rules.signals import units


class AllInoperative(HoldshortError):  # noqa: N818 - not an error of the author: the item does not apply
    """Every signal of a condition's `*` is dispatched inoperative; the item does not apply.

    `signals` names them.
    """

    def __init__(self, signals: Iterable[str]) -> None:
        self.signals = tuple(signals)
        super().__init__(f"dispatched inoperative: {', '.join(self.signals)}")


def check(
    text: str,
    scope: Scope,
    place: Callable[[int], Place],
    match: RuleMatch | None = None,
    other: str | None = None,
) -> checked_tree.Condition:
    """Parse and check one condition, or its part about one match.

    A `*` leaves out the signals that are dispatched inoperative; an `and` or `or` drops a part of which
    no signal is left.

    Args:
        text: The condition.
        scope: The names that it may use.
        place: Gives the place in the file of the character at an offset.
        match: Match of the rule to which the condition belongs, None for the whole condition.
        other: The other condition of the rule, None for none; a `*` that both have is one match outside of both.

    Returns:
        The checked condition, which can be both true and false; a part about one match may be always the same.

    Raises:
        InputFaults: Every fault found, in the order of the text.
        AllInoperative: Every signal that it reads is dispatched inoperative.
    """
    try:
        syntax_tree = parse(text)
    except ParseError as problem:
        fault = Fault(place(problem.offset), problem.what, problem.expected, problem.hint)
        raise InputFaults([fault]) from None
    context = CheckContext(scope, text)
    if other is not None:
        shared = shared_groups(context, syntax_tree, parse_or_none(other))
        context.shared_outside = frozenset(shared[:1])
    share_in_ands(context, syntax_tree)
    if match is not None:
        syntax_tree = part_of_match(context, syntax_tree, match)
        context.is_part = True
        context.wildcard_words = dict.fromkeys(match.groups, match.word)
    checked = check_condition(context, syntax_tree)
    if context.problems:
        raise InputFaults(_faults(context, place))
    if checked is None:
        raise AllInoperative(context.inoperative)
    return with_assumptions(checked)


def check_quantity(text: str, scope: Scope, place: Callable[[int], Place], unit: str) -> list[Fault]:
    """Check that a text is a term whose unit converts.

    Args:
        text: The term.
        scope: The names that it may use.
        place: Gives the place in the file of the character at an offset.
        unit: The wanted unit, `1` for none.

    Returns:
        Every fault found, in the order of the text.
    """
    try:
        term = parse_term(text)
    except ParseError as problem:
        return [Fault(place(problem.offset), problem.what, problem.expected, problem.hint)]
    context = CheckContext(scope)
    found = check_term(context, term, check_event)
    if found is not None and found.is_unitless and unit != "1":
        context.add_problem(found.offset, "a number without a unit", f"a unit such as {unit}")
    elif found is not None and not units.compatible(found.unit or "1", unit):
        context.add_problem(
            found.offset, f"{found.unit or 'this'} does not convert to {unit}", f"a unit such as {unit}"
        )
    return _faults(context, place)


def _faults(context: CheckContext, place: Callable[[int], Place]) -> list[Fault]:
    """Give the problems as faults, in the order of the text."""
    problems = sorted(context.problems, key=lambda problem: problem.offset)
    return [Fault(place(each.offset), each.what, each.expected, each.hint) for each in problems]
