"""Assumption over short gaps: what was so just before and just after a short gap did not change twice in it.

Without it, `the brake became set after the engines ran` would be in doubt for the rest of the flight after any gap, since
the engines could have stopped and started again in it:

    time       0        10         20    21.5
    engines    stop     | run      |  ?  | run       two changes in 1.5 s are possible, but no aeroplane does that
    brake                   | set

The assumption may clear a crew, never accuse it.  Of a condition that must be true only "true" may rest on it, and under
`not` only "false".  `assumes` of a node is the truth that may rest on it; None where neither may, inside of events.  Only
what looks back without a limit uses it: `happened`, `before`, `after`, `since` and deadlines.  Windows, counts and `for`
look back over a time that the author chose, in which every moment counts.

Takes: a checked condition.  Gives: the condition with `assumes` in its nodes.
"""

from __future__ import annotations

from dataclasses import replace

from rules.language import checked_tree
from rules.language.truth import Truth


def negated(truth: Truth) -> Truth:
    """Give Kleene's not."""
    return None if truth is None else not truth


def with_assumptions(condition: checked_tree.Condition, *, assumes: Truth = True) -> checked_tree.Condition:
    """Set which truth of each part may rest on the assumption.

    Args:
        condition: A checked condition.
        assumes: The truth of the condition itself that may.
    """
    if isinstance(condition, checked_tree.Estimate):
        return _of_estimate(condition, assumes)
    return _of_form(condition, assumes)


def _of_form(condition: checked_tree.Condition, assumes: Truth) -> checked_tree.Condition:
    """Set the assumptions of a condition that is no estimate."""
    match condition:
        case checked_tree.And(parts) | checked_tree.Or(parts):
            return replace(condition, parts=tuple(with_assumptions(part, assumes=assumes) for part in parts))
        case checked_tree.NumberOf(parts, least, most):
            counted = assumes if most >= len(parts) else negated(assumes) if least <= 0 else None
            return replace(condition, parts=tuple(with_assumptions(part, assumes=counted) for part in parts))
        case checked_tree.Not(part):
            return checked_tree.Not(with_assumptions(part, assumes=negated(assumes)))
        case checked_tree.Implies(when, then):
            return checked_tree.Implies(
                with_assumptions(when, assumes=negated(assumes)), with_assumptions(then, assumes=assumes)
            )
        case checked_tree.Unless(part, excuse):
            return checked_tree.Unless(
                with_assumptions(part, assumes=assumes), with_assumptions(excuse, assumes=assumes)
            )
        case checked_tree.TimedHistorically(part):
            return replace(condition, part=with_assumptions(part, assumes=assumes))
        case checked_tree.Since(part):
            return replace(condition, part=with_assumptions(part, assumes=assumes), assumes=assumes)
        case checked_tree.Deadline(part) if not isinstance(part, checked_tree.Event):
            return replace(condition, part=with_assumptions(part, assumes=assumes), assumes=assumes)
        case checked_tree.Once() | checked_tree.BeforeAfter() | checked_tree.Deadline():
            return replace(condition, assumes=assumes)
    return condition


def _of_estimate(condition: checked_tree.Estimate, assumes: Truth) -> checked_tree.Estimate:
    """Set the assumptions of an estimate: those that show it as itself, those that show its opposite the other way."""
    return replace(
        condition,
        yes=tuple(part and with_assumptions(part, assumes=assumes) for part in condition.yes),
        no=tuple(part and with_assumptions(part, assumes=negated(assumes)) for part in condition.no),
    )
