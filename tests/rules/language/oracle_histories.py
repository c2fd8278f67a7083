"""Histories of the oracle: what the steps of a run show of each signal, and functions of histories.

Takes: the steps of a run.  Gives: `Step`, `Histories` and functions of numbers and histories.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from math import inf

from rules.language import checked_tree
from rules.language.truth import Truth
from rules.signals.model import Signal
from tests.rules.language.oracle_events import (
    AnyValue,
    History,
    at,
    merge_equal,
)


@dataclass(frozen=True)
class Step:
    """Inputs of one step: signals with their new value (None where quality was lost), and calls.

    Data before the step are missing from `missing_from_s` on, if that is set.
    """

    at_s: float
    values: Mapping[str, float | str | None]
    calls: tuple[str, ...] = ()
    missing_from_s: float | None = None
    speakers: tuple[str, ...] = ()


class Histories:
    """Histories of one run of the monitors: the steps since they began."""

    def __init__(
        self,
        steps: Sequence[Step],
        truths: Mapping[str, History] | None = None,
        *,
        steady: bool = False,
        lossy: Container[str] = (),
        unseen: bool = False,
    ) -> None:
        self.unseen = unseen
        self.steps = steps
        self.lossy = lossy
        self.began_s = steps[0].at_s
        self.steady = steady
        self.items = dict(truths or {})

    # -- building -------------------------------------------------------------------------------

    def signal(self, name: str) -> History:
        """Values of a signal; of several at one time the last counts, and a gap leaves none until the step after it."""
        history: History = [(-inf, None)]
        for step in self.steps:
            value = history[-1][1]
            if step.missing_from_s is not None and name in self.lossy:
                history = replaced_from(history, step.missing_from_s, None)
                history = replaced_from(history, step.at_s, value)
            if name in step.values:
                start = -inf if self.steady and step.at_s == self.began_s else step.at_s
                history = replaced_from(history, start, step.values[name])
        return merge_equal(history)

    def data_start_s(self, node: AnyValue) -> float:
        """Time at which every signal below this node had been known once."""
        firsts = [first_known(self.signal(name)) for name in names_below(node)]
        return max(firsts, default=-inf if self.steady else self.began_s)

    def build_history(self, starts: Iterable[float], value_at: Callable[[float], AnyValue]) -> History:
        """Build a history that can only change at these times; before the monitors began everything is unknown."""
        times = sorted({s for s in starts if self.began_s <= s <= self.steps[-1].at_s} | {self.began_s})
        history: History = [(-inf, value_at(self.began_s) if self.steady else None)]
        return merge_equal(history + [(time, value_at(time)) for time in times])

    def pointwise(self, histories: Sequence[History], rule: Callable[..., AnyValue]) -> History:
        """History of a function of the present values."""
        starts = [start for history in histories for start, _ in history]
        return self.build_history(starts, lambda t: rule(*(at(history, t) for history in histories)))

    def shifted(self, history: History, span_s: float) -> list[float]:
        """Times at which a window of this length over the history can change."""
        starts = [start for start, _ in history]
        return starts + [start + span_s for start in starts]


def replaced_from(history: History, start: float, value: AnyValue) -> History:
    """History with another value from a time on."""
    return [piece for piece in history if piece[0] < start] + [(start, value)]


def names_below(node: AnyValue) -> set[str]:
    """Names of all signals anywhere below a checked node."""
    if isinstance(node, Signal):
        return {node.name}
    if isinstance(node, tuple):
        return {name for part in node for name in names_below(part)}
    if not is_dataclass(node):
        return set()
    return {name for part in fields(node) for name in names_below(getattr(node, part.name))}


def first_known(history: History) -> float:
    """Time at which a signal was first known, infinity for never."""
    return next((start for start, value in history if value is not None), inf)


def among(function: str, values: Sequence[float]) -> float:
    """Highest, lowest or average of some numbers."""
    ordered = sorted(values)
    return {"highest": ordered[-1], "lowest": ordered[0], "average": sum(values) / len(values)}[function]


def number_of(condition: checked_tree.NumberOf, values: Sequence[Truth]) -> Truth:
    """Count the true parts in every way in which the unknown ones can be."""
    fewest, unknown = values.count(True), values.count(None)
    truths = {condition.least <= fewest + more <= condition.most for more in range(unknown + 1)}
    return truths.pop() if len(truths) == 1 else None


def estimated(values: Sequence[Truth]) -> Truth:
    """Truth of an estimate by its first source that shows one: the first half of the values shows yes, the second no."""
    half = len(values) // 2
    shown = [(yes, no) for yes, no in zip(values[:half], values[half:], strict=True) if True in (yes, no)]
    return None if not shown or shown[0] == (True, True) else shown[0][0] is True


def distance(x: float, y: float, *, circle: bool) -> float:
    """Angle between directions the short way round, or difference of numbers."""
    return min((x - y) % 360, (y - x) % 360) if circle else abs(x - y)


def between(x: float, low: float, high: float, *, circle: bool) -> bool:
    """Check the range, clockwise on the circle."""
    if not circle:
        return low <= x <= high
    low, high = low % 360, high % 360
    return low <= x % 360 <= high if low <= high else x % 360 >= low or x % 360 <= high


def related(predicate: checked_tree.Relation, x: float, y: float) -> bool:
    """Comparison of two numbers."""
    equal = distance(x, y, circle=predicate.on_circle) <= 1e-6 * max(abs(x), abs(y))
    return {"=": equal, "!=": not equal, "<": x < y, "<=": x <= y, ">": x > y, ">=": x >= y}[predicate.op]
