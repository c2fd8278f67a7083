"""Random trees of conditions, as an author could have written them: for property tests.

Takes: the names, words and units to write with.  Gives: hypothesis strategies of conditions.
"""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from rules.language import tree

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
_relations = st.sampled_from(("before", "after"))


class Writing:
    """What authors write with these names, words and units."""

    def __init__(self, paths: SearchStrategy[str], words: Sequence[str], units: Sequence[str]) -> None:
        self.units = st.sampled_from(units)
        self.spans = st.builds(tree.Number, numbers, self.units)
        self.names = st.builds(tree.Name, paths)
        self.word = st.sampled_from(words)
        self.terms = st.recursive(st.one_of(self.spans, self.names), self._more_terms, max_leaves=4)
        self.simple_events = st.one_of(
            st.builds(tree.Happened, self.names),
            st.builds(tree.Became, self.names, self.word),
            st.builds(tree.Swept, self.terms, numbers, numbers, self.units),
        )

    def conditions(self, most: int = 12) -> SearchStrategy[tree.Condition]:
        """Conditions of any form, at most so many claims in each."""
        return st.recursive(self._claims(), self._more, max_leaves=most)

    def _more_terms(self, inner: SearchStrategy[tree.Term]) -> SearchStrategy[tree.Term]:
        functions = st.sampled_from(("highest", "lowest", "change", "rate"))
        return st.one_of(
            st.builds(tree.Sum, inner, st.sampled_from("+-"), inner),
            st.builds(tree.Scaled, inner, st.sampled_from("*/"), numbers),
            st.builds(tree.Window, functions, inner, self.spans),
        )

    def _claims(self) -> SearchStrategy[tree.Condition]:
        terms = st.one_of(self.terms, st.builds(tree.CountOf, self.simple_events, self.spans))
        words = st.lists(self.word, min_size=1, max_size=3).map(tuple)
        return st.one_of(
            st.builds(tree.Compare, terms, _operators, terms),
            st.builds(tree.Is, self.names, words, st.booleans()),
            st.builds(tree.InRange, terms, numbers, numbers, self.units),
            st.builds(tree.Near, terms, self.spans, terms),
            st.builds(tree.Occurred, self.simple_events),
            st.builds(tree.Recent, self.simple_events, self.spans),
        )

    def _events(self, inner: SearchStrategy[tree.Condition]) -> SearchStrategy[tree.Event]:
        return st.one_of(
            self.simple_events,
            st.builds(tree.Happened, inner),
            st.builds(tree.Became, inner, st.just("true")),
        )

    def _more(self, inner: SearchStrategy[tree.Condition]) -> SearchStrategy[tree.Condition]:
        several, events = st.lists(inner, min_size=2, max_size=3).map(tuple), self._events(inner)
        return st.one_of(
            st.builds(tree.All, several),
            st.builds(tree.Either, several),
            st.builds(tree.Opposite, inner),
            st.builds(tree.AnyOf, inner),
            st.builds(tree.Implies, inner, inner),
            st.builds(tree.Held, inner, self.spans),
            st.builds(tree.Since, inner, events),
            st.builds(tree.Occurred, events),
            st.builds(tree.Recent, events, self.spans),
            st.builds(tree.Order, events, _relations, events),
            st.builds(tree.Compare, st.builds(tree.CountOf, events, self.spans), _operators, self.terms),
        )


conditions = Writing(odd_names, WORDS, UNITS).conditions()


_TIMES = st.builds(tree.Number, st.sampled_from((0.5, 2.0, 90.0)), st.sampled_from(("s", "min")))


def joined(inner: SearchStrategy[tree.Condition]) -> SearchStrategy[tree.Condition]:
    """Conditions joined to greater ones, in every way that adds no name."""
    several = st.lists(inner, min_size=2, max_size=3).map(tuple)
    events = st.one_of(st.builds(tree.Happened, inner), st.builds(tree.Became, inner, st.just("true")))
    return st.one_of(
        st.builds(tree.All, several),
        st.builds(tree.Either, several),
        st.builds(tree.Opposite, inner),
        st.builds(tree.Implies, inner, inner),
        st.builds(tree.Held, inner, _TIMES),
        st.builds(tree.Since, inner, events),
        st.builds(tree.Occurred, events),
        st.builds(tree.Recent, events, _TIMES),
        st.builds(tree.Order, events, _relations, events),
    )
