"""Numbers of the oracle: the histories of terms and windows; counts need events, and are the oracle's own.

Takes: checked terms, the steps of a run.  Gives: `Numbers`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import fsum, inf

from rules.language import checked_tree
from rules.signals.model import SignalKind
from tests.rules.language.oracle_events import AnyValue, History, at, segments, within
from tests.rules.language.oracle_histories import Histories, among


class Numbers(Histories):
    """Histories of terms."""

    def count(self, term: checked_tree.EventCount) -> History:
        """History of a count."""
        raise NotImplementedError

    def number(self, term: checked_tree.Term) -> History:
        """History of a term."""
        if isinstance(term, checked_tree.Constant):
            return [(-inf, term.value)]
        if isinstance(term, checked_tree.SignalValue):
            return self.pointwise_known(
                [self.signal(term.signal.name)], lambda x: x * term.factor + term.offset
            )
        if isinstance(term, checked_tree.Sum):
            parts = [self.number(term.left), self.number(term.right)]
            return self.pointwise_known(parts, lambda x, y: x + y if term.sign > 0 else x - y)
        if isinstance(term, checked_tree.Scale):
            return self.pointwise_known([self.number(term.term)], lambda x: x * term.factor)
        if isinstance(term, checked_tree.Among):
            parts = [self.number(each) for each in term.terms]
            return self.pointwise_known(parts, lambda *values: among(term.function, values))
        if isinstance(term, checked_tree.Size):
            return self.pointwise_known([self.number(term.term)], lambda x: max(x, -x))
        return self.count(term) if isinstance(term, checked_tree.EventCount) else self.window(term)

    def pointwise_known(self, histories: Sequence[History], rule: Callable[..., AnyValue]) -> History:
        """History of a function of the present values; unknown where one of them is."""
        return self.pointwise(histories, lambda *values: None if None in values else rule(*values))

    def window(self, term: checked_tree.Window) -> History:
        """History of highest, lowest, change or rate."""
        inner, span_s = self.number(term.term), term.seconds
        if term.function == "average":
            return self.average(inner, span_s)
        pick = {"highest": max, "lowest": min}.get(term.function)
        data_start_s = self.data_start_s(term)
        circle = isinstance(term.term, checked_tree.SignalValue) and term.term.signal.kind is SignalKind.ANGLE

        def value_at(t: float) -> float | None:
            begin = max(t - span_s, data_start_s) if pick else t - span_s
            values = within(inner, begin, t) if begin <= t else [None]
            if None in values:
                return None
            if pick:
                return float(pick(values))
            change = at(inner, t) - at(inner, t - span_s)
            change = (change + 180) % 360 - 180 if circle else change
            return float(change / span_s if term.function == "rate" else change)

        return self.build_history(self.shifted(inner, span_s), value_at)

    def average(self, inner: History, span_s: float) -> History:
        """Average over the window, as it was at the latest multiple of a twentieth of its length."""
        step_s = span_s / 20

        def grid_s(t: float) -> float:
            return max(n * step_s for n in range(int(t / step_s) - 2, int(t / step_s) + 3) if n * step_s <= t)

        def value_at(t: float) -> float | None:
            end_s = grid_s(t)
            begin_s = end_s - span_s
            if None in within(inner, begin_s, t):
                return None
            pieces = [piece for piece in segments(inner) if piece[0] < end_s and piece[1] > begin_s]
            if len(pieces) == 1:
                return float(pieces[0][2])
            return (
                fsum(value * (min(end, end_s) - max(start, begin_s)) for start, end, value in pieces) / span_s
            )

        last_s = self.steps[-1].at_s
        grid = [n * step_s for n in range(int(self.began_s / step_s), int(last_s / step_s) + 2)]
        return self.build_history([*(start for start, _ in inner), *grid], value_at)
