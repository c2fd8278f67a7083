"""Random syntax trees of conditions, as an author could write them.

Takes: the names, words and units to write with.  Gives: hypothesis strategies of conditions.
"""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from rules.language import syntax

UNITS = ("", "psi", "kt", "ft/min", "%", "degC", "kg/h", "m/s^2", "°")
WORDS = ("on", "off", "1", "14L", "one", "met", "trip.runway", "engine.*.mode", "and", "before")
_PARTS = ("engine", "1", "2", "n2", "left_aft", "switch", "rate", "if", "and", "count", "x9", "*")
_HEADS = ("engine", "fuel", "trip", "limit", "call", "ifs", "notes", "x")

numbers = st.one_of(
    st.integers(-99_999, 99_999).map(float),
    st.floats(1e-6, 1e9, allow_nan=False),
    st.floats(-1e9, -1e-6, allow_nan=False),
)
odd_names = st.builds(
    lambda head, tail: ".".join((head, *tail)),
    st.sampled_from(_HEADS),
    st.lists(st.sampled_from(_PARTS), max_size=3),
)
_operators = st.sampled_from(("=", "!=", "<", "<=", ">", ">="))
_bounds = st.sampled_from(("at most", "at least", "exactly"))
_relations = st.sampled_from(("before", "after"))


def lasting(inner: SearchStrategy[syntax.ConditionExpr]) -> SearchStrategy[syntax.ConditionExpr]:
    """Conditions that can last; an event cannot, so it becomes the condition that it happened a short time ago."""
    return inner.map(_lasting)


def _lasting(part: syntax.ConditionExpr) -> syntax.ConditionExpr:
    if isinstance(part, syntax.OccurredExpr):
        return syntax.WithinLastExpr(part.event, syntax.NumberExpr(2.0, "s"))
    return part


class SyntaxStrategies:
    """Strategies for conditions with these names, words and units."""

    def __init__(self, paths: SearchStrategy[str], words: Sequence[str], units: Sequence[str]) -> None:
        self.units = st.sampled_from(units)
        self.spans = st.builds(syntax.NumberExpr, numbers, self.units)
        self.names = st.builds(syntax.NameExpr, paths)
        self.word = st.sampled_from(words)
        self.terms = st.recursive(st.one_of(self.spans, self.names), self._more_terms, max_leaves=4)
        self.ends = st.one_of(st.builds(syntax.NumberExpr, numbers), self.spans, self.terms)
        self.simple_events = st.one_of(
            st.builds(syntax.HappenedExpr, self.names),
            st.builds(syntax.HappenedExpr, self.names, st.sampled_from(("captain", "ground", "cook"))),
            st.builds(syntax.BecameExpr, self.names, self.word),
            st.builds(syntax.ChangedExpr, self.names),
            st.builds(syntax.SweptExpr, self.terms, self.ends, self.ends),
        )

    def conditions(self, most: int = 12) -> SearchStrategy[syntax.ConditionExpr]:
        """Conditions of any form, with a limited number of comparisons in each."""
        return st.recursive(self._claims(), self._more, max_leaves=most)

    def _more_terms(self, inner: SearchStrategy[syntax.TermExpr]) -> SearchStrategy[syntax.TermExpr]:
        functions = st.sampled_from(("highest", "lowest", "average", "change", "rate"))
        return st.one_of(
            st.builds(syntax.SumExpr, inner, st.sampled_from("+-"), inner),
            st.builds(
                syntax.ScaleExpr, inner, st.sampled_from("*/"), numbers, st.one_of(st.just(""), self.units)
            ),
            st.builds(syntax.WindowExpr, functions, inner, self.spans),
            st.builds(syntax.SizeExpr, inner),
            st.builds(
                syntax.AmongExpr,
                st.sampled_from(("highest", "lowest", "average")),
                st.lists(inner, min_size=1, max_size=3).map(tuple),
            ),
        )

    def _claims(self) -> SearchStrategy[syntax.ConditionExpr]:
        terms = st.one_of(self.terms, st.builds(syntax.CountExpr, self.simple_events, self.spans))
        words = st.lists(self.word, min_size=1, max_size=3).map(tuple)
        return st.one_of(
            st.builds(syntax.CompareExpr, terms, _operators, terms),
            st.builds(syntax.IsExpr, self.names, words, st.booleans()),
            st.builds(syntax.InRangeExpr, terms, self.ends, self.ends),
            st.builds(syntax.WithinExpr, terms, self.ends, terms),
            st.builds(syntax.OccurredExpr, self.simple_events),
            st.builds(syntax.WithinLastExpr, self.simple_events, self.spans),
        )

    def _events(self, inner: SearchStrategy[syntax.ConditionExpr]) -> SearchStrategy[syntax.EventExpr]:
        return st.one_of(
            self.simple_events,
            st.builds(syntax.HappenedExpr, inner),
            st.builds(syntax.BecameExpr, inner, st.just("true")),
        )

    def _more(self, inner: SearchStrategy[syntax.ConditionExpr]) -> SearchStrategy[syntax.ConditionExpr]:
        several, events = st.lists(inner, min_size=2, max_size=3).map(tuple), self._events(inner)
        return st.one_of(
            st.builds(syntax.AndExpr, several),
            st.builds(syntax.OrExpr, several),
            st.builds(syntax.NotExpr, inner),
            st.builds(syntax.AnyExpr, inner),
            st.builds(
                syntax.NumberOfExpr,
                _bounds,
                st.sampled_from((0.0, 1.0, 2.0)),
                st.one_of(several, st.tuples(inner)),
            ),
            st.builds(syntax.ImpliesExpr, inner, inner),
            st.builds(syntax.UnlessExpr, inner, inner),
            st.builds(syntax.ForExpr, lasting(inner), self.spans),
            st.builds(syntax.SinceExpr, lasting(inner), events),
            st.builds(syntax.OccurredExpr, events),
            st.builds(syntax.DeadlineExpr, st.one_of(lasting(inner), events), self.spans, events),
            st.builds(syntax.WithinLastExpr, events, self.spans),
            st.builds(syntax.BeforeAfterExpr, events, _relations, events),
            st.builds(
                syntax.CompareExpr, st.builds(syntax.CountExpr, events, self.spans), _operators, self.terms
            ),
        )


conditions = SyntaxStrategies(odd_names, WORDS, UNITS).conditions()


_TIMES = st.builds(syntax.NumberExpr, st.sampled_from((0.5, 2.0, 90.0)), st.sampled_from(("s", "min")))


def joined(inner: SearchStrategy[syntax.ConditionExpr]) -> SearchStrategy[syntax.ConditionExpr]:
    """Conditions joined to larger ones, in every way that adds no name."""
    several = st.lists(inner, min_size=2, max_size=3).map(tuple)
    events = st.one_of(
        st.builds(syntax.HappenedExpr, inner), st.builds(syntax.BecameExpr, inner, st.just("true"))
    )
    return st.one_of(
        st.builds(syntax.AndExpr, several),
        st.builds(syntax.OrExpr, several),
        st.builds(syntax.NotExpr, inner),
        st.builds(syntax.ImpliesExpr, inner, inner),
        st.builds(syntax.UnlessExpr, inner, inner),
        st.builds(syntax.ForExpr, lasting(inner), _TIMES),
        st.builds(syntax.SinceExpr, lasting(inner), events),
        st.builds(syntax.OccurredExpr, events),
        st.builds(syntax.DeadlineExpr, st.one_of(lasting(inner), events), _TIMES, events),
        st.builds(syntax.WithinLastExpr, events, _TIMES),
        st.builds(syntax.BeforeAfterExpr, events, _relations, events),
    )
