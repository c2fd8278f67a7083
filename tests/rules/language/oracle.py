"""Oracle: the truth of conditions from the definitions alone, without any optimisation.

For every sub-condition the whole history is built from scratch as pieces of dense time, each piece
[start, next start) with one truth; the truth at t is read from it.  Only the checked tree is shared with the
online evaluator.

Takes: a checked condition, the steps so far.  Gives: its truth at the last step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise, product, zip_longest
from math import inf

from rules.language import checked_tree
from rules.language.truth import Truth
from rules.signals.model import LONGEST_BRIDGED_GAP_S
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
    merged,
    older,
    segments,
    since,
    sure_latest,
    unseen_changes,
    within,
)
from tests.rules.language.oracle_histories import (
    between,
    distance,
    estimated,
    names_below,
    number_of,
    related,
)
from tests.rules.language.oracle_numbers import Numbers


class Oracle(Numbers):
    """Truth of conditions over the steps of one run of the monitors."""

    def truth(self, condition: checked_tree.Condition) -> Truth:
        """Truth at the last step."""
        truth: Truth = at(self.history(condition), self.steps[-1].at_s)
        return truth

    # -- counts -------------------------------------------------------------------------------------

    def count(self, term: checked_tree.EventCount) -> History:
        """Number of occasions in the window; unknown if one is uncertain."""
        span_s = term.seconds
        pieces = (
            self.sweeps(term.event) if isinstance(term.event, checked_tree.Sweep) else self.pieces(term.event)
        )

        def value_at(t: float) -> float | None:
            touching = [piece for piece in pieces if piece.meets(t - span_s, t) and not piece.once]
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
        if isinstance(event, checked_tree.Rise):
            found += unseen_changes(history, lambda before, after: before is False and after is True)
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
        return found + unseen_changes(history, lambda before, after: before != after)

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
        if isinstance(event, checked_tree.CallEvent):
            return self.call_outcomes(event, t)
        if isinstance(event, checked_tree.Sweep):
            found = self.sweep_outcomes(event, t, assume=assume)
        else:
            pieces = self.pieces(event)
            found = extremes(likely(pieces, t) if assume else pieces, t)
        if not self.is_unseen(event):
            return found
        began_s = max(self.began_s, self.data_start_s(event))
        before: list[Happening] = [None, ((-inf, 1), (-inf, 1)), ((-inf, 1), (min(began_s, t), 0))]
        return [merged(one, other) for one in found for other in before]

    def reference_outcomes(self, event: checked_tree.Event, t: float, *, assume: bool) -> list[Happening]:
        """Possible outcomes of an event after which another is awaited: true at first is having become true before."""
        found = self.possible_outcomes(event, t, assume=assume)
        if not self.is_unseen(event) or not isinstance(event, (checked_tree.Rise, checked_tree.Whenever)):
            return found
        known = [(start, value) for start, value in self.history(event.part) if value is not None]
        if not known or not known[0][1] or known[0][0] > t:
            return found
        moments: list[Happening] = [((-inf, 1), (-inf, 1)), ((known[0][0], 1), (known[0][0], 1))]
        return [merged(one, other) for one in found for other in moments]

    def call_outcomes(self, event: checked_tree.CallEvent, t: float) -> list[Happening]:
        """Extreme outcomes of a call; those of the first step were made at any moment before it, if it was not watched."""
        pieces = self.pieces(event)
        early = [piece for piece in pieces if self.unseen and piece.low == self.began_s]
        found = extremes([piece for piece in pieces if piece not in early], t)
        if not early:
            return found
        moments: list[Happening] = [((-inf, 1), (-inf, 1)), ((self.began_s, 1), (self.began_s, 1))]
        choices = moments if early[0].sure else [None, *moments]
        return [merged(one, other) for one in found for other in choices]

    def is_unseen(self, event: checked_tree.Event) -> bool:
        """Check that the event may have happened before the monitors began; what no link sends had no past."""
        return self.unseen and any(name in self.lossy for name in names_below(event))

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
        if isinstance(condition, checked_tree.Estimate):
            shown = [
                [(-inf, False)] if part is None else self.history(part)
                for part in (*condition.yes, *condition.no)
            ]
            return self.pointwise(shown, lambda *values: estimated(values))
        if isinstance(condition, checked_tree.Not):
            return self.pointwise([self.history(condition.part)], kleene_not)
        if isinstance(condition, checked_tree.Implies):
            parts = [self.history(condition.when), self.history(condition.then)]
            return self.pointwise(parts, lambda when, then: kleene_not(kleene_and([when, kleene_not(then)])))
        if isinstance(condition, checked_tree.Unless):
            parts = [self.history(condition.part), self.history(condition.excuse)]
            return self.pointwise(parts, lambda part, excuse: True if excuse is True else part)
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
            is_after = condition.relation == "after"
            rule = after if is_after else before
            events = [condition.first, condition.second]
            return self.over_outcomes(
                events, lambda _, one, two: rule(one, two), condition.assumes, ordered=is_after
            )
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
        *,
        ordered: bool = False,
    ) -> History:
        """True or False where every possible outcome gives it; `assumes` where every likely one does.

        `ordered`: the first event is awaited after the second.
        """
        reads = (self.possible_outcomes, self.reference_outcomes if ordered else self.possible_outcomes)

        def truths_at(t: float, *, assume: bool) -> set[Truth]:
            outcomes = [read(event, t, assume=assume) for event, read in zip(events, reads, strict=False)]
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
