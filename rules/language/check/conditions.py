"""Conditions and events: joined, expanded over `*`, and known to be able to change.

Takes: conditions as written.  Gives: checked ones, or faults at the desk.
"""

from __future__ import annotations

from collections.abc import Sequence

from rules.language import checked, tree
from rules.language.check.compare import check_compare, check_in_range, check_within, check_sweep
from rules.language.check.names import CheckContext
from rules.language.check.settled import PossibleTruths, possible_truths
from rules.language.check.stars import direct_wildcard_names, matching_words, wildcard_names
from rules.language.check.units import check_seconds
from rules.language.check.why import why_constant
from rules.language.check.words import check_words


def check_condition(context: CheckContext, node: tree.ConditionExpr) -> checked.Condition | None:
    """Check a condition.

    Args:
        desk: Where faults are noted.
        node: As written.

    Returns:
        The checked condition; None where a fault was noted, or where everything that it reads is
        dispatched inoperative.
    """
    before = len(context.problems)
    made = _check_node(context, node)
    if made is not None and len(context.problems) == before and not context.wildcard_word:
        _refuse_constant(context, node, made)
    return made


def _refuse_constant(context: CheckContext, node: tree.ConditionExpr, result: checked.Condition) -> None:
    """Note a fault where a condition is always the same."""
    mask = possible_truths(result)
    if mask != PossibleTruths.BOTH:
        never = mask == PossibleTruths.FALSE
        what = "this is never true" if never else "this is always true"
        context.add_problem(node.offset, what, "a condition that can change", why_constant(result, never=never))


def _check_node(context: CheckContext, node: tree.ConditionExpr) -> checked.Condition | None:
    """One node: `any` and a `*` are expanded here, all else below."""
    if isinstance(node, tree.AnyExpr):
        if not wildcard_names(node.part):
            context.add_problem(
                node.offset, "`any` without a `*`", "a name with `*`", "write such as `any engine.*.n2 > 5 %`"
            )
            return check_condition(context, node.part)
        return _expand_wildcards(context, node.part, each=False)
    if direct_wildcard_names(node) and not context.wildcard_word:
        return _expand_wildcards(context, node, each=True)
    match node:
        case tree.AndExpr() | tree.OrExpr() | tree.NotExpr() | tree.ImpliesExpr():
            return _check_logical(context, node)
        case tree.ForExpr() | tree.OccurredExpr() | tree.WithinLastExpr() | tree.BeforeAfterExpr() | tree.SinceExpr():
            return _check_temporal(context, node)
        case tree.CompareExpr():
            return check_compare(context, node, check_event)
        case tree.InRangeExpr():
            return check_in_range(context, node, check_event)
        case tree.WithinExpr():
            return check_within(context, node, check_event)
        case tree.IsExpr(name, words, negated):
            return check_words(context, name, words, node.part_offsets, negated=negated)


def _expand_wildcards(context: CheckContext, node: tree.ConditionExpr, *, each: bool) -> checked.Condition | None:
    """A condition for every word that its `*` stands for; the first word with a fault speaks for all."""
    parts: list[checked.Condition] = []
    for word in matching_words(context, wildcard_names(node)):
        before = len(context.problems)
        with context.expanding(word):
            part = check_condition(context, node)
        if len(context.problems) > before:
            return None
        if part is not None:
            parts.append(part)
    if len(parts) < 2:
        return parts[0] if parts else None
    return checked.And(tuple(parts), from_wildcard=True) if each else checked.Or(tuple(parts))


def _check_logical(
    context: CheckContext, node: tree.AndExpr | tree.OrExpr | tree.NotExpr | tree.ImpliesExpr
) -> checked.Condition | None:
    """`and`, `or`, `not`, `if`; a part that is wholly inoperative drops out."""
    match node:
        case tree.NotExpr(part):
            inner = check_condition(context, part)
            return None if inner is None else checked.Not(inner)
        case tree.ImpliesExpr(when, then):
            first, second = check_condition(context, when), check_condition(context, then)
            return None if first is None or second is None else checked.Implies(first, second)
        case tree.AndExpr(parts):
            kept = _check_parts(context, parts)
            return kept[0] if len(kept) == 1 else checked.And(kept) if kept else None
        case tree.OrExpr(parts):
            kept = _check_parts(context, parts)
            return kept[0] if len(kept) == 1 else checked.Or(kept) if kept else None


def _check_parts(context: CheckContext, parts: Sequence[tree.ConditionExpr]) -> tuple[checked.Condition, ...]:
    made = [check_condition(context, part) for part in parts]
    return tuple(part for part in made if part is not None)


def _check_temporal(
    context: CheckContext, node: tree.ForExpr | tree.OccurredExpr | tree.WithinLastExpr | tree.BeforeAfterExpr | tree.SinceExpr
) -> checked.Condition | None:
    """What depends on the past."""
    match node:
        case tree.ForExpr(part, span):
            inner, seconds = check_condition(context, part), check_seconds(context, span)
            return None if inner is None or seconds is None else checked.TimedHistorically(inner, seconds)
        case tree.OccurredExpr(happening):
            first = check_event(context, happening)
            return None if first is None else checked.Once(first)
        case tree.WithinLastExpr(happening, span):
            first, seconds = check_event(context, happening), check_seconds(context, span)
            return None if first is None or seconds is None else checked.TimedOnce(first, seconds)
        case tree.BeforeAfterExpr(happening, relation, other):
            first, second = check_event(context, happening), check_event(context, other)
            return None if first is None or second is None else checked.BeforeAfter(first, relation, second)
        case tree.SinceExpr(part, happening):
            inner, first = check_condition(context, part), check_event(context, happening)
            return None if inner is None or first is None else checked.Since(inner, first)


def check_event(context: CheckContext, node: tree.EventExpr) -> checked.Event | None:
    """Check an event; None where a fault was noted or everything that it reads is inoperative."""
    match node:
        case tree.SweptExpr():
            return check_sweep(context, node, check_event)
        case tree.HappenedExpr(tree.NameExpr() as name):
            return _check_call(context, name)
        case tree.BecameExpr(tree.NameExpr() as name, word):
            part = check_words(context, name, (word,), node.part_offsets)
            return None if part is None else checked.Rise(part)
        case tree.HappenedExpr(subject):
            part = None if isinstance(subject, tree.NameExpr) else check_condition(context, subject)
            return None if part is None else checked.Whenever(part)
        case tree.BecameExpr(subject):
            part = None if isinstance(subject, tree.NameExpr) else check_condition(context, subject)
            return None if part is None else checked.Rise(part)


def _check_call(context: CheckContext, name: tree.NameExpr) -> checked.Event | None:
    """`call.NAME happened`; nothing else happens by its name alone."""
    path = context.expand(name.path)
    key = path.removeprefix("call.")
    if path != key and key in context.scope.calls:
        return checked.CallEvent(key, context.scope.calls[key])
    signal = context.scope.signals.get(path)
    if signal is not None:
        said = f"{path} became {signal.words[-1]}" if signal.words else f"({path} > ...) happened"
        context.add_problem(name.offset, f"{path} is a signal, which does not happen", "a call", f"write `{said}`")
    elif context.scope.items_named(path):
        context.add_problem(name.offset, f"{path} is an item", "a call", f"write `({path} is met) happened`")
    elif path.removeprefix("limit.") in context.scope.limits:
        context.add_problem(name.offset, f"{path} is a number", "a call", f"write `(NAME > {path}) happened`")
    else:
        context.report_unknown(name.offset, path)
    return None
