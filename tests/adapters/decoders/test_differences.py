"""Tests that decoders list the columns that differ, also where Python holds false and 0 equal."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import NonFiniteFilter, RawValue

VALUES = st.sampled_from((0, 1, 0.0, 1.0, 2.5, False, True, None, "0", "on"))
RECORDS = st.lists(st.lists(VALUES, min_size=3, max_size=3), min_size=2, max_size=8)


def differs(value: RawValue, earlier: RawValue) -> bool:
    """Tell whether a signal can take the two as different: by value, or since one is a truth value."""
    return value != earlier or isinstance(value, bool) is not isinstance(earlier, bool)


@given(RECORDS)
def test_every_column_that_differs_is_listed(records: list[list[RawValue]]) -> None:
    """The columns of each record are those that differ from the record before, in order; an equal number may be listed."""
    tracked = NonFiniteFilter()
    tracked.clean(("a", "b", "c"), list(records[0]))
    for earlier, values in pairwise(records):
        changed = list(tracked.clean(("a", "b", "c"), list(values)).changed)
        assert changed == sorted(changed)
        assert {c for c in range(3) if differs(values[c], earlier[c])} <= set(changed)
        assert all(values[c] != earlier[c] or type(values[c]) is not type(earlier[c]) for c in changed)
