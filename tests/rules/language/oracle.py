"""Oracle: the truth of conditions from the definitions alone, without any optimisation.

For every sub-condition the whole history is built from scratch as pieces of dense time, each piece
[start, next start) with one truth; the truth at t is read from it.  Only the checked tree is shared with the
online evaluator.

Takes: a checked condition, the steps so far.  Gives: its truth at the last step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise, product, zip_longest
from math import fsum, inf

from rules.language import checked_tree
from rules.language.truth import Truth
from rules.signals.model import LONGEST_BRIDGED_GAP_S, SignalKind
from tests.rules.language.oracle_events import (
    AnyValue,
    Happening,
    History,
    Occurrence,
    Piece,
    after,
    at,
    before,
    extremes,
    first_occurrences,
    kleene_and,
    kleene_not,
    latest,
    likely,
    older,
    segments,
    since,
    sure_latest,
    within,
)
from tests.rules.language.oracle_histories import (
    Histories,
    among,
    between,
    distance,
    number_of,
    related,
)


class Oracle(Histories):
    """Truth of conditions over the steps of one run of the monitors."""

    def truth(self, condition: checked_tree.Condition) -> Truth:
        """Truth at the last step."""
        truth: Truth = at(self.history(condition), self.steps[-1].at_s)
        return truth

    # -- numbers --------------------------------------------------------------------------------

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

    def count(self, term: checked_tree.EventCount) -> History:
        """Number of occasions in the window; unknown if one is uncertain."""
        span_s = term.seconds
        pieces = (
            self.sweeps(term.event) if isinstance(term.event, checked_tree.Sweep) else self.pieces(term.event)
        )

        def value_at(t: float) -> float | None:
            touching = [piece for piece in pieces if piece.meets(t - span_s, t)]
            return float(len(touching)) if all(piece.sure for piece in touching) else None

        return self.build_history(self.edges(pieces, span_s), value_at)

    # -- events ---------------------------------------------------------------------------------

    def pieces(self, event: checked_tree.Event) -> list[Piece]:
        """Certain and possible moments of an event that is not a sweep."""
        if isinstance(event, checked_tree.CallEvent):
            return self.entries(event)
        if isinstance(event, checked_tree.Changed):
            return self.changes(event)
        assert isinstance(event, (checked_tree.Rise, checked_tree.Whenever))
        history, data_start_s = self.history(event.part), self.data_start_s(event.part)
        found: list[Piece] = []
        left: Truth = history[0][1]
        bridged = self.bridged_ends(history)
        for start, end, value in segments(history):
            if value is None:
                found.append(Piece(start, end, sure=False, data_start_s=data_start_s, bridged=end in bridged))
            elif value and isinstance(event, checked_tree.Whenever):
                found.append(Piece(start, end, sure=True))
            elif value and left is not True:
                sure = left is False
                found.append(
                    Piece(start, start, sure, True, data_start_s=data_start_s, bridged=start in bridged)
                )
            left = value
        return found

    def bridged_ends(self, history: History) -> set[float]:
        """Ends of the short gaps that leave the value as it was."""
        gaps = {(step.missing_from_s, step.at_s) for step in self.steps if step.missing_from_s is not None}
        return {
            end
            for (_, before), (start, value), (end, after) in zip(
                history, history[1:], history[2:], strict=False
            )
            if value is None
            and before is not None
            and before == after
            and (start, end) in gaps
            and end - start <= LONGEST_BRIDGED_GAP_S
        }

    def entries(self, event: checked_tree.CallEvent) -> list[Piece]:
        """Moments at which a call was made by the wanted speaker, or by one that is not known."""
        times: dict[float, bool] = {}
        for step in self.steps:
            for name, speaker in zip_longest(step.calls, step.speakers, fillvalue=""):
                known = not event.speaker or speaker in (event.speaker, *event.others)
                if name == event.name and (not event.speaker or speaker not in event.others):
                    times[step.at_s] = times.get(step.at_s, False) or known
        return [Piece(at_s, at_s, sure=sure, point=True) for at_s, sure in sorted(times.items())]

    def changes(self, event: checked_tree.Changed) -> list[Piece]:
        """Moments at which a signal has another known value than just before."""
        history, data_start_s = self.signal(event.signal.name), self.data_start_s(event)
        found: list[Piece] = []
        left = history[0][1]
        bridged = self.bridged_ends(history)
        for start, end, value in segments(history):
            if value is None:
                found.append(Piece(start, end, sure=False, data_start_s=data_start_s, bridged=end in bridged))
            elif value != left and (left is not None or start > data_start_s):
                sure = left is not None
                found.append(
                    Piece(start, start, sure, True, data_start_s=data_start_s, bridged=start in bridged)
                )
            left = value
        return found

    def limits(self, event: checked_tree.Sweep) -> tuple[list[Piece], list[Piece]]:
        """Moments at the low and at the high limit."""
        low = checked_tree.Relation(event.term, "<=", event.low)
        high = checked_tree.Relation(event.term, ">=", event.high)
        return self.pieces(checked_tree.Whenever(low)), self.pieces(checked_tree.Whenever(high))

    def sweeps(self, event: checked_tree.Sweep) -> list[Piece]:
        """Certain moments, one for each travel from limit to limit, at its start; and all uncertain ones."""
        low, high = self.limits(event)
        reaches = [(piece, side) for side, pieces in enumerate((low, high)) for piece in pieces if piece.sure]
        reaches.sort(key=lambda reach: reach[0].low)
        travels = [(one.high, two.low) for (one, side), (two, other) in pairwise(reaches) if side != other]
        doubts = [piece for piece in low + high if not piece.sure]
        # The moments just before `high` are in (t - span, t] as long as `high` is.
        return [Piece(t, t, sure=True, point=True, seen_s=seen) for t, seen in travels] + doubts

    def edges(self, pieces: Iterable[Piece], span_s: float = 0.0) -> list[float]:
        """Times at which these moments can change."""
        ends = [end for piece in pieces for end in (piece.low, piece.high, piece.seen_s, piece.data_start_s)]
        return ends + [end + span_s for end in ends]

    def event_edges(self, event: checked_tree.Event, span_s: float = 0.0) -> list[float]:
        """Times at which the moments of any event can change."""
        if isinstance(event, checked_tree.Sweep):
            low, high = self.limits(event)
            return self.edges(low + high, span_s)
        return self.edges(self.pieces(event), span_s)

    def possible_outcomes(self, event: checked_tree.Event, t: float, *, assume: bool) -> list[Happening]:
        """Possible outcomes of the event up to t: every extreme choice of the uncertain moments."""
        if isinstance(event, checked_tree.Sweep):
            return self.sweep_outcomes(event, t, assume=assume)
        pieces = self.pieces(event)
        return extremes(likely(pieces, t) if assume else pieces, t)

    def sweep_outcomes(self, event: checked_tree.Sweep, t: float, *, assume: bool) -> list[Happening]:
        """Extreme outcomes of a sweep: the moment is the older of the two latest reaches."""
        every_low, every_high = self.limits(event)
        low, high = (likely(side, t) if assume else side for side in (every_low, every_high))
        least, most = older(sure_latest(low, t), sure_latest(high, t)), older(latest(low, t), latest(high, t))
        if most is None:
            return [None]
        earliest = min(min(first_occurrences(side, t)) for side in (low, high))
        if least is None:
            return [None, (earliest, most), (earliest, earliest)]
        return [(earliest, most), (earliest, least), (self.first_sweep(every_low, every_high, t), least)]

    def first_sweep(self, low: list[Piece], high: list[Piece], t: float) -> Occurrence:
        """Latest possible moment of the first sweep."""
        times = sorted({piece.low for piece in low + high if piece.sure and piece.low <= t})
        for time in times:
            if sure_latest(low, time) and sure_latest(high, time):
                most = older(latest(low, time), latest(high, time))
                assert most is not None
                return min(most, (time, 1))
        raise AssertionError

    # -- conditions -----------------------------------------------------------------------------

    def history(self, condition: checked_tree.Condition) -> History:
        """History of any condition."""
        if isinstance(condition, (checked_tree.And, checked_tree.Or)):
            parts = [self.history(part) for part in condition.parts]
            if isinstance(condition, checked_tree.And):
                return self.pointwise(parts, lambda *values: kleene_and(values))
            return self.pointwise(
                parts, lambda *values: kleene_not(kleene_and([kleene_not(v) for v in values]))
            )
        if isinstance(condition, checked_tree.NumberOf):
            parts = [self.history(part) for part in condition.parts]
            return self.pointwise(parts, lambda *values: number_of(condition, values))
        if isinstance(condition, checked_tree.Not):
            return self.pointwise([self.history(condition.part)], kleene_not)
        if isinstance(condition, checked_tree.Implies):
            parts = [self.history(condition.when), self.history(condition.then)]
            return self.pointwise(parts, lambda when, then: kleene_not(kleene_and([when, kleene_not(then)])))
        if isinstance(condition, checked_tree.ItemMet):
            return self.items.get(condition.item, [(-inf, None)])
        if isinstance(condition, checked_tree.FaultyCondition):
            return [(-inf, None)]
        return self.timed(condition)

    def timed(self, condition: AnyValue) -> History:
        """History of an operator of time, or of a comparison."""
        if isinstance(condition, checked_tree.TimedHistorically):
            inner = self.history(condition.part)
            span_s = condition.seconds
            return self.build_history(
                self.shifted(inner, span_s), lambda t: kleene_and(within(inner, t - span_s, t))
            )
        if isinstance(condition, checked_tree.TimedOnce):
            return self.recent(condition)
        if isinstance(condition, checked_tree.Once):
            return self.over_outcomes([condition.event], lambda _, e: e is not None, condition.assumes)
        if isinstance(condition, checked_tree.BeforeAfter):
            rule = before if condition.relation == "before" else after
            events = [condition.first, condition.second]
            return self.over_outcomes(events, lambda _, one, two: rule(one, two), condition.assumes)
        if isinstance(condition, checked_tree.Deadline):
            return self.deadline(condition)
        if isinstance(condition, checked_tree.Since):
            inner = self.history(condition.part)
            starts = [start for start, _ in inner]
            rule_at = lambda t, e: since(inner, t, e)  # noqa: E731 - a rule as the others
            return self.over_outcomes([condition.event], rule_at, condition.assumes, starts)
        return self.comparison(condition)

    def deadline(self, condition: checked_tree.Deadline) -> History:
        """History of `within N s after`: false where not in time, and nothing since the latest event."""
        part, event, assumes = condition.part, condition.event, condition.assumes
        if isinstance(part, checked_tree.Event):
            no_older = checked_tree.Not(checked_tree.BeforeAfter(event, "after", part, kleene_not(assumes)))
            part = checked_tree.And((checked_tree.Once(part, assumes), no_older))
        nothing = self.history(checked_tree.Since(checked_tree.Not(part), event, kleene_not(assumes)))
        time_left = self.recent(checked_tree.TimedOnce(event, condition.seconds))
        return self.pointwise(
            [nothing, time_left], lambda since, left: kleene_not(kleene_and([since, kleene_not(left)]))
        )

    def recent(self, condition: checked_tree.TimedOnce) -> History:
        """History of `within the last`."""
        event, span_s = condition.event, condition.seconds
        if isinstance(event, checked_tree.Sweep):
            low, high = self.limits(event)
            sides = [self.touched(low, span_s), self.touched(high, span_s)]
            return self.pointwise(sides, lambda *values: kleene_and(values))
        return self.touched(self.pieces(event), span_s)

    def touched(self, pieces: list[Piece], span_s: float) -> History:
        """Check that one of these moments lies in (t - span, t]."""

        def value_at(t: float) -> Truth:
            touching = [piece.sure for piece in pieces if piece.meets(t - span_s, t)]
            return True if True in touching else (None if touching else False)

        return self.build_history(self.edges(pieces, span_s), value_at)

    def over_outcomes(
        self,
        events: Sequence[checked_tree.Event],
        rule: Callable[..., Truth],
        assumes: Truth,
        starts: Sequence[float] = (),
    ) -> History:
        """True or False where every possible outcome gives it; `assumes` where every likely one does."""

        def truths_at(t: float, *, assume: bool) -> set[Truth]:
            outcomes = (self.possible_outcomes(event, t, assume=assume) for event in events)
            return {rule(t, *outcome) for outcome in product(*outcomes)}

        def value_at(t: float) -> Truth:
            truths = truths_at(t, assume=False)
            if len(truths) == 1:
                return truths.pop()
            return assumes if truths_at(t, assume=True) == {assumes} else None

        return self.build_history(
            [*starts, *(edge for event in events for edge in self.event_edges(event))], value_at
        )

    def comparison(self, predicate: AnyValue) -> History:
        """History of a comparison of present values."""
        if isinstance(predicate, checked_tree.WordIs):
            return self.pointwise_known(
                [self.signal(predicate.signal.name)], lambda w: (w in predicate.words) != predicate.negated
            )
        if isinstance(predicate, checked_tree.SameWord):
            sides = [self.signal(predicate.left.name), self.signal(predicate.right.name)]
            return self.pointwise_known(sides, lambda one, two: (one == two) != predicate.negated)
        if isinstance(predicate, checked_tree.Between):
            sides = [self.number(term) for term in (predicate.term, predicate.low, predicate.high)]
            return self.pointwise_known(
                sides, lambda x, low, high: between(x, low, high, circle=predicate.on_circle)
            )
        if isinstance(predicate, checked_tree.WithinTolerance):
            sides = [self.number(term) for term in (predicate.term, predicate.target, predicate.tolerance)]
            return self.pointwise_known(
                sides, lambda x, y, width: distance(x, y, circle=predicate.on_circle) <= width
            )
        sides = [self.number(predicate.left), self.number(predicate.right)]
        return self.pointwise_known(sides, lambda x, y: related(predicate, x, y))
