"""Checks of estimates: of a claim about one, each source gives a condition that shows it, and one that shows the opposite.

`estimate.height > 1000 ft`, with a first source that is exact, and a second one between a least and a most:

    source        shows that it is so          shows that it is not
    exact         height > 1000 ft             not height > 1000 ft
    least, most   least > 1000 ft              most <= 1000 ft

Takes: claims as written.  Gives: `Estimate`, or problems in the `CheckContext`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeAlias

from rules.language import checked_tree, syntax
from rules.language.check.context import MAX_MATCHES, CheckContext
from rules.language.scope import EstimateRule, EstimateSource
from rules.signals.model import ESTIMATE_PREFIX
from rules.source import unknown_word

ConditionCheck: TypeAlias = Callable[[CheckContext, syntax.ConditionExpr], checked_tree.Condition | None]
ComparisonExpr: TypeAlias = syntax.CompareExpr | syntax.InRangeExpr | syntax.WithinExpr
_Shown: TypeAlias = tuple[syntax.ConditionExpr | None, syntax.ConditionExpr | None]
"""Conditions that show a claim and its opposite."""

_OPPOSITE = {">": "<=", ">=": "<", "<": ">=", "<=": ">"}
YES, NO = "yes", "no"


def compared_term(node: ComparisonExpr) -> syntax.TermExpr:
    """Give the term on the left of a comparison."""
    return node.left if isinstance(node, syntax.CompareExpr) else node.term


def names_estimate(context: CheckContext, term: syntax.TermExpr) -> bool:
    """Check that a term is the name of an estimate of the pack."""
    return isinstance(term, syntax.NameExpr) and _rule_of(context, term) is not None


def refuse_in_event(context: CheckContext, name: syntax.NameExpr) -> None:
    """Add the problem of an estimate in an event."""
    hint = f"write `{name.path} is yes` outside an event"
    context.add_problem(name.offset, "an estimate has no moment, so it is no event", "a signal", hint)


def check_estimate_words(
    context: CheckContext,
    name: syntax.NameExpr,
    words: tuple[str, ...],
    offsets: tuple[int, ...],
    check_condition: ConditionCheck,
    *,
    negated: bool,
) -> checked_tree.Condition | None:
    """Check `estimate.NAME is yes` and `is no`."""
    rule = _permitted_rule(context, name)
    if rule is None:
        return None
    path = context.expand(name.path)
    if rule.is_number:
        context.add_problem(name.offset, f"{path} is a number", "`<`, `<=`, `>`, `>=`, `in` or `within`")
        return None
    if len(words) != 1 or words[0] not in (YES, NO):
        what, expected, hint = unknown_word("word", words[0], (YES, NO))
        context.add_problem(offsets[0], what, expected, hint)
        return None
    shown = [(source.yes, source.no) for source in rule.sources]
    claim = _checked(context, name, rule, shown, check_condition)
    return checked_tree.Not(claim) if claim is not None and (words[0] == NO) is not negated else claim


def check_estimate_comparison(
    context: CheckContext, node: ComparisonExpr, check_condition: ConditionCheck
) -> checked_tree.Condition | None:
    """Check a comparison with an estimate on its left."""
    name = compared_term(node)
    if not isinstance(name, syntax.NameExpr) or (rule := _permitted_rule(context, name)) is None:
        return None
    path = context.expand(name.path)
    if not rule.is_number:
        context.add_problem(name.offset, f"{path} is yes or no", "`is`", f"write `{path} is yes`")
        return None
    if isinstance(node, syntax.CompareExpr) and node.op not in _OPPOSITE:
        expected = "`<`, `<=`, `>`, `>=`, `in` or `within`"
        context.add_problem(node.offset, f"an estimate is never known to be `{node.op}`", expected)
        return None
    shown = [_shown(node, source) for source in rule.sources]
    return _checked(context, name, rule, shown, check_condition)


def _rule_of(context: CheckContext, name: syntax.NameExpr) -> EstimateRule | None:
    """Give the rule of a name; None where it names no estimate."""
    path = context.expand(name.path)
    known = path.startswith(ESTIMATE_PREFIX)
    return context.scope.estimates.get(path.removeprefix(ESTIMATE_PREFIX)) if known else None


def _permitted_rule(context: CheckContext, name: syntax.NameExpr) -> EstimateRule | None:
    """Give the rule of an estimate; None and a problem where it may not be used."""
    path = context.expand(name.path)
    if not context.scope.may_estimate:
        what, hint = "an estimate never shows that an item is met", "name the signal itself"
        context.add_problem(
            name.offset, what, "estimates only in cue, entry, applies, when, begins and ends", hint
        )
        return None
    if context.in_event:
        refuse_in_event(context, name)
        return None
    if path in context.open_estimates:
        circle = " reads ".join((*context.open_estimates[context.open_estimates.index(path) :], path))
        context.add_problem(name.offset, f"circular reference of estimates: {circle}", "no circle")
        return None
    return _rule_of(context, name)


def _shown(node: ComparisonExpr, source: EstimateSource) -> _Shown:
    """Give the conditions by which a source shows a comparison, and its opposite."""
    least, most = source.least, source.most
    if isinstance(node, syntax.CompareExpr):
        return _shown_by(node, *((least, most) if node.op[0] == ">" else (most, least)))
    if least is not None and least == most:
        return _with_opposite(
            replace(node, term=least)  # one comparison, with the sentence of a range or a tolerance
        )
    low, high = _ends(node)
    above = _shown_by(syntax.CompareExpr(compared_term(node), ">=", low), least, most)
    below = _shown_by(syntax.CompareExpr(compared_term(node), "<=", high), most, least)
    within = syntax.AndExpr((above[0], below[0])) if above[0] and below[0] else None
    outside = tuple(part for part in (above[1], below[1]) if part is not None)
    return within, syntax.OrExpr(outside) if len(outside) > 1 else outside[0] if outside else None


def _shown_by(
    node: syntax.CompareExpr, surely: syntax.TermExpr | None, possibly: syntax.TermExpr | None
) -> _Shown:
    """Give the conditions that show `left op right` and its opposite, by the two ends of the left side."""
    if surely is not None and surely == possibly:
        return _with_opposite(replace(node, left=surely))
    return (
        replace(node, left=surely) if surely is not None else None,
        replace(node, left=possibly, op=_OPPOSITE[node.op]) if possibly is not None else None,
    )


def _with_opposite(node: ComparisonExpr) -> _Shown:
    return node, syntax.NotExpr(node, offset=node.offset)


def _ends(node: syntax.InRangeExpr | syntax.WithinExpr) -> tuple[syntax.TermExpr, syntax.TermExpr]:
    """Give the ends of a range, or of a tolerance around its target."""
    if isinstance(node, syntax.WithinExpr):
        return tuple(syntax.SumExpr(node.target, sign, node.tolerance, offset=node.offset) for sign in "-+")  # type: ignore[return-value]  # two signs
    low = node.low
    if isinstance(low, syntax.NumberExpr) and isinstance(node.high, syntax.NumberExpr) and not low.unit:
        low = replace(low, unit=node.high.unit)
    return low, node.high


def _checked(
    context: CheckContext,
    name: syntax.NameExpr,
    rule: EstimateRule,
    shown: list[_Shown],
    check_condition: ConditionCheck,
) -> checked_tree.Condition | None:
    """Check the conditions that show a claim; a problem in one is reported at the name of the estimate."""
    path = context.expand(name.path)
    inner = CheckContext(
        context.scope,
        is_part=True,
        open_estimates=(*context.open_estimates, path),
        matches=context.matches + 1,
    )
    if inner.matches > MAX_MATCHES:
        context.add_problem(name.offset, "this condition reads too many estimates", f"at most {MAX_MATCHES}")
        return None
    parts = [
        _checked_pair(inner, pair, source.while_true, check_condition)
        for pair, source in zip(shown, rule.sources, strict=True)
    ]
    context.matches = inner.matches
    for problem in inner.problems:
        what = problem.what if problem.what.startswith("circular") else f"{path}: {problem.what}"
        context.add_problem(name.offset, what, problem.expected, problem.hint)
    if inner.problems:
        return None
    if all(part is None for pair in parts for part in pair):
        context.inoperative.extend(each for each in inner.inoperative if each not in context.inoperative)
        return None
    return checked_tree.Estimate(rule.label, tuple(yes for yes, _ in parts), tuple(no for _, no in parts))


def _checked_pair(
    context: CheckContext,
    shown: _Shown,
    while_true: syntax.ConditionExpr | None,
    check_condition: ConditionCheck,
) -> tuple[checked_tree.Condition | None, checked_tree.Condition | None]:
    """Check the two conditions of a source, with the one while which it counts."""
    yes = None if shown[0] is None else check_condition(context, shown[0])
    if isinstance(shown[1], syntax.NotExpr) and shown[1].part is shown[0]:
        no: checked_tree.Condition | None = None if yes is None else checked_tree.Not(yes)
    else:
        no = None if shown[1] is None else check_condition(context, shown[1])
    if while_true is None:
        return yes, no
    counts = check_condition(context, while_true)
    if counts is None:
        return None, None
    return (
        None if yes is None else checked_tree.And((counts, yes)),
        None if no is None else checked_tree.And((counts, no)),
    )
