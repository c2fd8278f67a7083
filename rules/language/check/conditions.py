"""Checks of conditions and events: logic, expansion of `*`, and whether their truth can change.

Takes: conditions as written.  Gives: checked ones, or problems in the `CheckContext`.
"""

from __future__ import annotations

from collections.abc import Sequence

from rules.language import checked_tree, syntax
from rules.language.check.comparisons import check_compare, check_within
from rules.language.check.constant_reason import hint_of_exclusion, why_constant
from rules.language.check.context import MAX_MATCHES, CheckContext, WildcardGroup
from rules.language.check.doubtful_wildcards import refuse_listed, refuse_negated, refuse_short_any
from rules.language.check.estimates import (
    check_estimate_comparison,
    check_estimate_words,
    compared_term,
    names_estimate,
    refuse_in_event,
)
from rules.language.check.ranges import check_in_range, check_sweep
from rules.language.check.satisfiability import PossibleTruths, excludes, possible_truths
from rules.language.check.simple_events import check_call, check_changed
from rules.language.check.units import check_seconds
from rules.language.check.wildcards import (
    LEAF_CONDITIONS,
    are_operative,
    direct_wildcard_names,
    groups_bound_at,
    have_one_group,
    wildcard_names,
)
from rules.language.check.words import check_words


def check_condition(context: CheckContext, node: syntax.ConditionExpr) -> checked_tree.Condition | None:
    """Check a condition.

    Args:
        context: Collects the problems.
        node: As written.

    Returns:
        The checked condition; None after a problem, where everything that it reads is dispatched inoperative, or where
        what is left of a comparison is always the same.
    """
    before, left_out = len(context.problems), context.left_out
    checked = _check_node(context, node)
    if checked is None or len(context.problems) > before:
        return checked
    if context.left_out > left_out and isinstance(node, LEAF_CONDITIONS):
        # The spread of one tank alone says nothing.
        return checked if possible_truths(checked) == PossibleTruths.BOTH else None
    if not (context.wildcard_words or context.is_part):
        _refuse_constant(context, node, checked)
    return checked


def _refuse_constant(
    context: CheckContext, node: syntax.ConditionExpr, result: checked_tree.Condition
) -> None:
    """Add a problem where a condition is always the same."""
    mask = possible_truths(result)
    if mask != PossibleTruths.BOTH:
        never = mask == PossibleTruths.FALSE
        what = "this is never true" if never else "this is always true"
        context.add_problem(
            node.offset, what, "a condition that can change", why_constant(result, never=never)
        )


def _check_node(context: CheckContext, node: syntax.ConditionExpr) -> checked_tree.Condition | None:
    """Check one node; expands `any` and `*`."""
    own_names = direct_wildcard_names(node)
    if own_names and not have_one_group(context, own_names):
        return None
    before = len(context.problems)
    groups = groups_bound_at(context, node)
    if groups and len(context.problems) == before:
        refuse_negated(context, groups)
        return _expand_wildcard(context, node, groups[0])
    if not are_operative(context, own_names):
        return None
    # A fault of a `*` further inside does not hide the others.
    return _check_form(context, node)


def _check_any(context: CheckContext, node: syntax.AnyExpr) -> checked_tree.Condition | None:
    """Check `any`: its condition for one match of its `*`, which all names in it share."""
    names = wildcard_names(node.part)
    if not names:
        context.add_problem(
            node.offset, "`any` without a `*`", "a name with `*`", "write such as `any engine.*.n2 > 5 %`"
        )
        return check_condition(context, node.part)
    if not have_one_group(context, names):
        return None
    return _expand_wildcard(context, node.part, context.wildcard_group(names[0].path), names)


def _check_number_of(context: CheckContext, node: syntax.NumberOfExpr) -> checked_tree.Condition | None:
    """Check `at most 1 of ...`: the matches of a `*`, or the parts of a list.

    What is inoperative is not counted, and a number that the rest can no longer reach or exceed is lowered to one that
    it can.  With one of four doors inoperative `at least 4` means all three, `at most 3` at most two; `at most 1` stays.
    So `not at most 3` still means `at least 4`.
    """
    whole = _whole_number(context, node)
    members, declared = _members(context, node)
    if whole is None or not members:
        return None
    if not _can_change(node.bound, whole, declared):
        _refuse_number(context, node, declared, never=whole > declared and node.bound != "at most")
        return None
    left = len(members)
    if left < declared:
        whole = min(whole, left - 1 if node.bound == "at most" else left)
    least = 0 if node.bound == "at most" else whole
    most = left if node.bound == "at least" else whole
    counted = checked_tree.NumberOf(members, least, most)
    mask = PossibleTruths.BOTH if context.wildcard_words or left < declared else possible_truths(counted)
    if mask == PossibleTruths.BOTH:
        return counted
    _refuse_number(context, node, declared, never=mask == PossibleTruths.FALSE)
    return None


def _can_change(bound: str, number: int, count: int) -> bool:
    """Check that a count of so many conditions can be right and wrong."""
    if bound == "at most":
        return number < count
    return number <= count and (bound == "exactly" or number > 0)


def _refuse_number(context: CheckContext, node: syntax.NumberOfExpr, count: int, *, never: bool) -> None:
    """Add the problem of a count that is always right, or never."""
    what, hint = f"this is {'never' if never else 'always'} true", f"{count} conditions are counted"
    context.add_problem(node.part_offsets[0], what, "a number that can be reached and exceeded", hint)


def _whole_number(context: CheckContext, node: syntax.NumberOfExpr) -> int | None:
    """Give the number of a count; a problem where it is not 0, 1, 2 and so on."""
    if node.number >= 0 and node.number == int(node.number):
        return int(node.number)
    context.add_problem(node.part_offsets[0], "a number of conditions must be whole", "0, 1, 2 and so on")
    return None


def _members(
    context: CheckContext, node: syntax.NumberOfExpr
) -> tuple[tuple[checked_tree.Condition, ...], int]:
    """Give the conditions that are counted, and their number with the inoperative ones.

    There are none after a problem, or where all are inoperative.
    """
    before = len(context.problems)
    if len(node.parts) > 1:
        refuse_listed(context, node)
        with context.negating(None):
            members = _check_parts(context, node.parts)
        return members if len(context.problems) == before else (), len(node.parts)
    (part,) = node.parts
    names = wildcard_names(part)
    if not names:
        hint = f"write such as `{node.bound} 1 of (engine.*.n2 > 5 %)`, or a list `(a, b)`"
        context.add_problem(node.offset, f"`{node.bound}` without a `*`", "a name with `*`, or a list", hint)
        return (), 0
    if not have_one_group(context, names):
        return (), 0
    group = context.wildcard_group(names[0].path)
    return _expanded(context, part, group, names), len(group)


def _check_form(context: CheckContext, node: syntax.ConditionExpr) -> checked_tree.Condition | None:
    """Check one node by its form."""
    match node:
        case syntax.AnyExpr():
            return _check_any(context, node)
        case syntax.NumberOfExpr():
            return _check_number_of(context, node)
        case (
            syntax.AndExpr() | syntax.OrExpr() | syntax.NotExpr() | syntax.ImpliesExpr() | syntax.UnlessExpr()
        ):
            return _check_logical(context, node)
        case (
            syntax.ForExpr()
            | syntax.OccurredExpr()
            | syntax.WithinLastExpr()
            | syntax.BeforeAfterExpr()
            | syntax.DeadlineExpr()
            | syntax.SinceExpr()
        ):
            return _check_temporal(context, node)
        case syntax.CompareExpr() | syntax.InRangeExpr() | syntax.WithinExpr():
            return _check_comparison(context, node)
        case syntax.IsExpr(name, words, negated):
            if names_estimate(context, name):
                return check_estimate_words(
                    context, name, words, node.part_offsets, check_condition, negated=negated
                )
            return check_words(context, name, words, node.part_offsets, negated=negated)


def _check_comparison(
    context: CheckContext, node: syntax.CompareExpr | syntax.InRangeExpr | syntax.WithinExpr
) -> checked_tree.Condition | None:
    """Check a comparison of numbers."""
    if names_estimate(context, compared_term(node)):
        return check_estimate_comparison(context, node, check_condition)
    match node:
        case syntax.CompareExpr():
            return check_compare(context, node, check_event)
        case syntax.InRangeExpr():
            return check_in_range(context, node, check_event)
        case syntax.WithinExpr():
            return check_within(context, node, check_event)


def _expand_wildcard(
    context: CheckContext,
    node: syntax.ConditionExpr,
    group: WildcardGroup,
    names_of_any: Sequence[syntax.NameExpr] = (),
) -> checked_tree.Condition | None:
    """Expand a condition to every word of a `*`: all must be true, under `any` (with `names_of_any`) one."""
    parts = _expanded(context, node, group, names_of_any)
    if len(parts) < 2:
        return parts[0] if parts else None
    return checked_tree.Or(parts) if names_of_any else checked_tree.And(parts, from_wildcard=True)


def _expanded(
    context: CheckContext,
    node: syntax.ConditionExpr,
    group: WildcardGroup,
    own_names: Sequence[syntax.NameExpr] = (),
) -> tuple[checked_tree.Condition, ...]:
    """Give a condition for every word of a `*`; none after a problem.

    Args:
        context: Collects the problems.
        node: The condition.
        group: The wildcard.
        own_names: Names whose inoperative matches are left out, with the condition for them.
    """
    parts: list[checked_tree.Condition] = []
    for word in context.words_in_order(group):
        before = len(context.problems)
        context.matches += 1
        if context.matches > MAX_MATCHES:
            what = "the `*` of this condition have too many matches"
            context.add_problem(node.offset, what, f"at most {MAX_MATCHES}", "split it into several items")
            return ()
        with context.expanding(group, word):
            part = check_condition(context, node) if are_operative(context, own_names) else None
        if len(context.problems) > before:
            return ()
        if part is not None:
            parts.append(part)
    return tuple(parts)


def _check_logical(
    context: CheckContext,
    node: syntax.AndExpr | syntax.OrExpr | syntax.NotExpr | syntax.ImpliesExpr | syntax.UnlessExpr,
) -> checked_tree.Condition | None:
    """Check `and`, `or`, `not`, `if`, `unless`; a part that is wholly inoperative is dropped."""
    match node:
        case syntax.NotExpr(part):
            with context.negating(node):
                inner = check_condition(context, part)
            return None if inner is None else checked_tree.Not(inner)
        case syntax.ImpliesExpr():
            return _check_implies(context, node)
        case syntax.UnlessExpr(part, excuse):
            first, second = check_condition(context, part), check_condition(context, excuse)
            return first if first is None or second is None else checked_tree.Unless(first, second)
        case syntax.AndExpr(parts):
            refuse_short_any(context, node)
            checked = _check_parts(context, parts)
            return checked[0] if len(checked) == 1 else checked_tree.And(checked) if checked else None
        case syntax.OrExpr(parts):
            checked = _check_parts(context, parts)
            return checked[0] if len(checked) == 1 else checked_tree.Or(checked) if checked else None


def _check_implies(context: CheckContext, node: syntax.ImpliesExpr) -> checked_tree.Condition | None:
    """Check `if`; an `if` alone that is wholly inoperative is read all the same, since what it asks for is not."""
    before = len(context.problems)
    first, second = check_condition(context, node.when), check_condition(context, node.then)
    if first is None and second is not None and len(context.problems) == before:
        with context.reading_inoperative():
            first = check_condition(context, node.when)
    if first is None or second is None:
        return None
    _refuse_exclusion(context, node.then, first, second)
    return checked_tree.Implies(first, second)


def _refuse_exclusion(
    context: CheckContext,
    node: syntax.ConditionExpr,
    when: checked_tree.Condition,
    then: checked_tree.Condition,
) -> None:
    """Add a problem where what is wanted can never be true while the `if` is."""
    if excludes(when, then):
        what = "this is never true while the `if` is"
        context.add_problem(
            node.offset, what, "a condition that can then be true", hint_of_exclusion(when, then)
        )


def _check_parts(
    context: CheckContext, parts: Sequence[syntax.ConditionExpr]
) -> tuple[checked_tree.Condition, ...]:
    checked = [check_condition(context, part) for part in parts]
    return tuple(part for part in checked if part is not None)


def _check_temporal(
    context: CheckContext,
    node: syntax.ForExpr
    | syntax.OccurredExpr
    | syntax.WithinLastExpr
    | syntax.BeforeAfterExpr
    | syntax.DeadlineExpr
    | syntax.SinceExpr,
) -> checked_tree.Condition | None:
    """Check `for`, `since`, `within the last`, `before`, `after` and events."""
    match node:
        case syntax.ForExpr(part, span):
            inner, seconds = check_condition(context, part), check_seconds(context, span)
            return (
                None if inner is None or seconds is None else checked_tree.TimedHistorically(inner, seconds)
            )
        case syntax.OccurredExpr(happening):
            first = check_event(context, happening)
            return None if first is None else checked_tree.Once(first)
        case syntax.WithinLastExpr(happening, span):
            first, seconds = check_event(context, happening), check_seconds(context, span)
            return None if first is None or seconds is None else checked_tree.TimedOnce(first, seconds)
        case syntax.BeforeAfterExpr(happening, relation, other):
            first, second = check_event(context, happening), check_event(context, other)
            return (
                None if first is None or second is None else checked_tree.BeforeAfter(first, relation, second)
            )
        case syntax.DeadlineExpr(part, span, happening):
            return _check_deadline(context, part, span, happening)
        case syntax.SinceExpr(part, happening):
            inner, first = check_condition(context, part), check_event(context, happening)
            return None if inner is None or first is None else checked_tree.Since(inner, first)


def _check_deadline(
    context: CheckContext,
    part: syntax.ConditionExpr | syntax.EventExpr,
    span: syntax.NumberExpr,
    happening: syntax.EventExpr,
) -> checked_tree.Condition | None:
    """Check `PART within N s after EVENT`."""
    awaited = (
        check_event(context, part) if isinstance(part, syntax.EventExpr) else check_condition(context, part)
    )
    seconds, event = check_seconds(context, span), check_event(context, happening)
    if awaited is None or seconds is None or event is None:
        return None
    return checked_tree.Deadline(awaited, seconds, event)


def check_event(context: CheckContext, node: syntax.EventExpr) -> checked_tree.Event | None:
    """Check an event; None after a problem or where everything that it reads is inoperative."""
    with context.within_event():
        return _check_event_form(context, node)


def _check_event_form(context: CheckContext, node: syntax.EventExpr) -> checked_tree.Event | None:
    """Check an event by its form."""
    match node:
        case syntax.SweptExpr():
            return check_sweep(context, node, check_event)
        case syntax.ChangedExpr(name):
            return check_changed(context, name)
        case syntax.HappenedExpr(syntax.NameExpr() as name, speaker):
            return check_call(context, name, speaker, node.part_offsets)
        case syntax.BecameExpr(syntax.NameExpr() as name) if names_estimate(context, name):
            refuse_in_event(context, name)
            return None
        case syntax.BecameExpr(syntax.NameExpr() as name, word):
            part = check_words(context, name, (word,), node.part_offsets)
            return None if part is None else checked_tree.Rise(part)
        case syntax.HappenedExpr(subject):
            part = None if isinstance(subject, syntax.NameExpr) else check_condition(context, subject)
            return None if part is None else checked_tree.Whenever(part)
        case syntax.BecameExpr(subject):
            part = None if isinstance(subject, syntax.NameExpr) else check_condition(context, subject)
            return None if part is None else checked_tree.Rise(part)
