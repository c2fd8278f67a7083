"""Meaning of a deadline (`brake is set within 5 s after E`) in terms of `since`, `after` and `within the last`.

A deadline of 5 s after E, at 10 s and again at 20 s:

    time        0        10     15   17        20     25
    E                    E                     E
    it          no                   yes  no
    deadline    met             late met              late

Takes: a checked deadline.  Gives: the conditions that decide it, which both evaluators and the check read.
"""

from __future__ import annotations

from rules.language.assumptions import negated
from rules.language.checked_tree import (
    And,
    BeforeAfter,
    Condition,
    Deadline,
    Event,
    Not,
    Once,
    Since,
    TimedOnce,
)


def fulfilment(deadline: Deadline) -> Condition:
    """Give what must be true at some moment since the event: the condition; or that the awaited event is no older."""
    if not isinstance(deadline.part, Event):
        return deadline.part
    is_older = BeforeAfter(deadline.event, "after", deadline.part, negated(deadline.assumes))
    return And((Once(deadline.part, deadline.assumes), Not(is_older)))


def in_time(deadline: Deadline) -> Condition:
    """Give the condition that time is left: the event happened within the last `seconds`."""
    return TimedOnce(deadline.event, deadline.seconds)


def overdue(deadline: Deadline) -> Condition:
    """Give the condition that is true where the deadline passed: no fulfilment since the event, and no time left."""
    nothing = Since(Not(fulfilment(deadline)), deadline.event, negated(deadline.assumes))
    return And((nothing, Not(in_time(deadline))))
