"""Tests that decoders list the columns that differ, also where Python holds false and 0 equal."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import pairwise

import msgpack
import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import DecodedRecord, Decoder, RawValue, RecordComparer
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.msgpack_map import MsgpackDecoder

VALUES = st.sampled_from((0, 1, 0.0, 1.0, 2.5, False, True, None, "0", "on"))
RECORDS = st.lists(st.lists(VALUES, min_size=3, max_size=3), min_size=2, max_size=8)
STEADY = st.lists(
    st.tuples(st.lists(VALUES, min_size=3, max_size=3), st.integers(1, 12)), min_size=2, max_size=8
)
"""Records, and how often each is sent: a decoder makes a type for records after some of one layout."""
NAMES = ("a", "b", "c")


def differs(value: RawValue, earlier: RawValue) -> bool:
    """Tell whether a signal can take the two as different: by value, or since one is a truth value."""
    return value != earlier or isinstance(value, bool) is not isinstance(earlier, bool)


def check_columns(changed: list[int], values: list[RawValue], earlier: list[RawValue]) -> None:
    """Check that the columns that differ are listed, in order, and no others; an equal number may be listed."""
    assert changed == sorted(changed)
    assert {c for c in range(3) if differs(values[c], earlier[c])} <= set(changed)
    assert all(values[c] != earlier[c] or type(values[c]) is not type(earlier[c]) for c in changed)


@given(RECORDS)
def test_every_column_that_differs_is_listed(records: list[list[RawValue]]) -> None:
    """The columns of each record without a type are those that differ from the record before."""
    comparer = RecordComparer()
    comparer.compare(NAMES, list(records[0]), None)
    for earlier, values in pairwise(records):
        check_columns(list(comparer.compare(NAMES, list(values), None).changed), values, earlier)


@pytest.mark.parametrize(
    ("make", "encode"),
    [(JsonDecoder, lambda fields: json.dumps(fields).encode()), (MsgpackDecoder, msgpack.packb)],
)
@given(STEADY)
def test_a_decoder_lists_every_column_that_differs(
    make: Callable[[], Decoder],
    encode: Callable[[dict[str, RawValue]], bytes],
    steady: list[tuple[list[RawValue], int]],
) -> None:
    """Also a sender that sent numbers for long, and then sends a truth value in their place."""
    decoder = make()
    records = [values for values, times in steady for _ in range(times)]
    decoded = [decoder.decode(encode(dict(zip(NAMES, values, strict=True)))) for values in records]
    for (earlier, values), record in zip(pairwise(records), decoded[1:], strict=True):
        assert isinstance(record, DecodedRecord)
        assert record.values == values
        assert list(map(type, record.values)) == list(map(type, values))
        check_columns(list(record.changed), values, earlier)
