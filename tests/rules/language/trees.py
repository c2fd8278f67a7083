"""Random trees of conditions, as an author could have written them: for property tests.

Takes: nothing.  Gives: hypothesis strategies `terms`, `events`, `conditions`.
"""

from __future__ import annotations

from hypothesis import strategies as st

from rules.language import tree

_UNITS = ("", "psi", "kt", "ft/min", "%", "degC", "kg/h", "1a", "m/s^2", "°")
_PARTS = ("engine", "1", "2", "n2", "left_aft", "switch", "rate", "if", "and", "count", "x9")
_WORDS = ("on", "off", "1", "14L", "one", "met", "trip.runway", "engine.*.mode", "and", "before")

numbers = st.one_of(
    st.integers(-99_999, 99_999).map(float),
    st.floats(1e-6, 1e9, allow_nan=False),
    st.floats(-1e9, -1e-6, allow_nan=False),
)
units = st.sampled_from([unit for unit in _UNITS if unit != "1a"])
spans = st.builds(tree.Number, numbers, units)
_heads = st.sampled_from(("engine", "fuel", "trip", "limit", "call", "ifs", "notes", "x"))
_tails = st.lists(st.sampled_from((*_PARTS, "*")), max_size=3)
names = st.builds(lambda head, tail: tree.Name(".".join((head, *tail))), _heads, _tails)
words = st.lists(st.sampled_from(_WORDS), min_size=1, max_size=3).map(tuple)


def _more_terms(inner: st.SearchStrategy[tree.Term]) -> st.SearchStrategy[tree.Term]:
    return st.one_of(
        st.builds(tree.Sum, inner, st.sampled_from("+-"), inner),
        st.builds(tree.Scaled, inner, st.sampled_from("*/"), numbers),
        st.builds(tree.Window, st.sampled_from(("highest", "lowest", "change", "rate")), inner, spans),
    )


_plain = st.recursive(st.one_of(spans, names), _more_terms, max_leaves=4)
_simple_events = st.one_of(
    st.builds(tree.Happened, names),
    st.builds(tree.Became, names, st.sampled_from(_WORDS)),
    st.builds(tree.Swept, _plain, numbers, numbers, units),
)
terms = st.one_of(_plain, st.builds(tree.CountOf, _simple_events, spans))
_operators = st.sampled_from(("=", "!=", "<", "<=", ">", ">="))
_claims = st.one_of(
    st.builds(tree.Compare, terms, _operators, terms),
    st.builds(tree.Is, names, words, st.booleans()),
    st.builds(tree.InRange, terms, numbers, numbers, units),
    st.builds(tree.Near, terms, spans, terms),
    st.builds(tree.Occurred, _simple_events),
    st.builds(tree.Recent, _simple_events, spans),
)


def _events(inner: st.SearchStrategy[tree.Condition]) -> st.SearchStrategy[tree.Event]:
    return st.one_of(
        _simple_events,
        st.builds(tree.Happened, inner),
        st.builds(tree.Became, inner, st.just("true")),
    )


def _more(inner: st.SearchStrategy[tree.Condition]) -> st.SearchStrategy[tree.Condition]:
    several = st.lists(inner, min_size=2, max_size=3).map(tuple)
    return st.one_of(
        st.builds(tree.All, several),
        st.builds(tree.Either, several),
        st.builds(tree.Opposite, inner),
        st.builds(tree.AnyOf, inner),
        st.builds(tree.Implies, inner, inner),
        st.builds(tree.Held, inner, spans),
        st.builds(tree.Since, inner, _events(inner)),
        st.builds(tree.Occurred, _events(inner)),
        st.builds(tree.Recent, _events(inner), spans),
        st.builds(tree.Order, _events(inner), st.sampled_from(("before", "after")), _events(inner)),
        st.builds(tree.Compare, st.builds(tree.CountOf, _events(inner), spans), _operators, terms),
    )


conditions = st.recursive(_claims, _more, max_leaves=12)
events = _events(conditions)
