"""Check: from the text of a condition to the tree that the evaluators run, with every fault at once.

Takes: text, the scope of its names, and where its characters stand in the file.
Gives: `checked.Condition`, or `InputFaults`, or `AllInoperative` where there is nothing left to check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rules.faults import Fault, HoldshortError, InputFaults, Place
from rules.language import checked_tree
from rules.language.check.conditions import check_condition
from rules.language.check.context import CheckContext
from rules.language.parser import ParseError, parse
from rules.language.scope import Scope


class AllInoperative(HoldshortError):  # noqa: N818 - not an error of the author: the item is excused
    """Every signal that a condition asks for by `*` is dispatched inoperative; the item is excused.

    `signals` names them.
    """

    def __init__(self, signals: Iterable[str]) -> None:
        """Keep the names."""
        self.signals = tuple(signals)
        super().__init__(f"dispatched inoperative: {', '.join(self.signals)}")


def check(text: str, scope: Scope, place: Callable[[int], Place]) -> checked_tree.Condition:
    """Read and check one condition.

    A `*` leaves out the signals that are dispatched inoperative; an `and` or `or` of which a part
    has none left goes on without that part.

    Args:
        text: The condition.
        scope: The names that it may use.
        place: Where the character at an offset stands.

    Returns:
        The checked condition, able to be true and able to be false.

    Raises:
        InputFaults: Every fault found, in the order of the text.
        AllInoperative: Nothing is left of it, since all that it reads is dispatched inoperative.
    """
    try:
        written = parse(text)
    except ParseError as problem:
        fault = Fault(place(problem.offset), problem.what, problem.expected, problem.hint)
        raise InputFaults([fault]) from None
    desk = CheckContext(scope)
    made = check_condition(desk, written)
    if desk.problems:
        slips = sorted(desk.problems, key=lambda slip: slip.offset)
        raise InputFaults(Fault(place(slip.offset), slip.what, slip.expected, slip.hint) for slip in slips)
    if made is None:
        raise AllInoperative(desk.inoperative)
    return made
