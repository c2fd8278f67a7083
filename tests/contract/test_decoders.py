"""Contract of every decoder, ours and those of other packages; `decoder_cases` lists them.

Takes: `DECODERS`.  Gives: tests of round trips, damaged bytes, names and changed columns.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import ColumnHeading, DecodedRecord, Decoder, RawValue, Reject
from tests.contract.decoder_cases import DECODERS, DecoderCase

Result = DecodedRecord | ColumnHeading | Reject


@pytest.fixture(params=list(DECODERS.values()), ids=list(DECODERS))
def case(request: pytest.FixtureRequest) -> DecoderCase:
    """Give each decoder in turn."""
    chosen: DecoderCase = request.param
    return chosen


def check_result(result: Result) -> None:
    """Check that the receiver can use a decoder's result."""
    if isinstance(result, DecodedRecord):
        assert len(result.names) == len(result.values)
        assert isinstance(result.names, tuple)
        for value in result.values:
            assert value is None or isinstance(value, float | int | str)
            assert not isinstance(value, float) or math.isfinite(value)
    elif isinstance(result, Reject):
        assert result.reason
        assert len(str(result)) < 1000
    else:
        assert result.names


def read(decoder: Decoder, datagrams: list[bytes]) -> list[Result]:
    """Decode all records of some datagrams."""
    return [decoder.decode(record) for data in datagrams for record in decoder.split(data)]


def fields(decoder: Decoder, datagrams: list[bytes]) -> dict[str, RawValue]:
    """Decode the last record's fields, without time and sequence number."""
    result = read(decoder, datagrams)[-1]
    assert isinstance(result, DecodedRecord), result
    found = dict(zip(result.names, result.values, strict=True))
    return {name: value for name, value in found.items() if name not in ("time", "Time", "sequence")}


def test_a_round_trip_gives_the_same_fields(case: DecoderCase) -> None:
    """A round trip gives the same fields with the same types, record after record while values change."""
    decoder, encoder = case.decoder(), case.encoder()
    for number in range(12):
        want = {**case.fields, "n2": number * 1.1}
        assert fields(decoder, encoder.encode(number * 0.05, number, want)) == want


def test_a_round_trip_preserves_none(case: DecoderCase) -> None:
    """None stays None for its field, and all other fields keep their values."""
    decoder, encoder = case.decoder(), case.encoder()
    for name in case.fields:
        want = {**case.fields, name: None}
        assert fields(decoder, encoder.encode(1.0, 1, want)) == want


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_nan_and_infinity_are_never_decoded(case: DecoderCase, bad: float) -> None:
    """A sender's NaN or infinity affects its field or its record, but no other field, and raises nothing."""
    decoder, encoder = case.decoder(), case.encoder()
    for number in range(8):
        for result in read(decoder, encoder.encode(1.0, number, {**case.fields, "n2": bad})):
            check_result(result)
            if isinstance(result, DecodedRecord):
                found = dict(zip(result.names, result.values, strict=True))
                assert found["n2"] is None
                assert found["gear"] == case.fields["gear"]


@given(st.binary(max_size=200))
def test_random_bytes_never_raise(data: bytes) -> None:
    """Any bytes give a usable result."""
    for case in DECODERS.values():
        decoder = case.decoder()
        for record in decoder.split(data):
            check_result(decoder.decode(record))


@given(st.text(alphabet='{}[]:,"=0123456789.+-eENnIi \n\\tfab<LABELS>_\x00é', max_size=120))
def test_random_text_never_raises(text: str) -> None:
    """Texts that are nearly valid give a usable result."""
    for case in DECODERS.values():
        decoder = case.decoder()
        for record in decoder.split(text.encode()):
            check_result(decoder.decode(record))


@given(st.data())
def test_damaged_records_do_not_affect_the_next(data: st.DataObject) -> None:
    """A record with changed bytes gives a usable result, and the good record after it is read in full."""
    for case in DECODERS.values():
        decoder, encoder = case.decoder(), case.encoder()
        for number in range(6):
            read(decoder, encoder.encode(number * 0.05, number, case.fields))
        damaged = bytearray(encoder.encode(1.0, 7, case.fields)[-1])
        for place, byte in data.draw(
            st.lists(st.tuples(st.integers(0, len(damaged) - 1), st.integers(0, 255)), max_size=4)
        ):
            damaged[place] = byte
        for result in read(decoder, [bytes(damaged)]):
            check_result(result)
        assert fields(decoder, encoder.encode(2.0, 8, {**case.fields, "n2": 7.5})) == {
            **case.fields,
            "n2": 7.5,
        }


def test_a_truncated_record_gives_a_result(case: DecoderCase) -> None:
    """Every truncated record gives a usable result, and a refusal where the format allows it."""
    encoder = case.encoder()
    *before, record = encoder.encode(1.0, 1, case.fields)
    end = len(record.rstrip(b"\n")) if record.endswith(b"\n") else len(record)
    for cut in range(end):
        decoder = case.decoder()
        read(decoder, before)
        result = decoder.decode(record[:cut])
        check_result(result)
        assert isinstance(result, Reject) or not case.rejects_cuts


@pytest.mark.parametrize("byte", [b"\x00", b" ", b"1", b"{", b"=", b",", b"\xff", b"\x81", b"["])
def test_60_kilobytes_of_one_byte_give_a_result(case: DecoderCase, byte: bytes) -> None:
    """A huge invalid datagram gives a usable result within the test's time."""
    decoder = case.decoder()
    for record in decoder.split(byte * 60_000):
        check_result(decoder.decode(record))


def test_an_oversized_record_is_refused(case: DecoderCase) -> None:
    """A record larger than any link accepts is refused for its size."""
    result = case.decoder().decode(b"1" * 70_000)
    assert isinstance(result, Reject)
    assert result.reason == "too large"


@pytest.mark.parametrize("empty", [b"", b" ", b"\r\n"])
def test_an_empty_record_is_refused_as_empty(case: DecoderCase, empty: bytes) -> None:
    """An empty record has its own reason for refusal."""
    result = case.decoder().decode(empty)
    assert isinstance(result, Reject)
    assert result.reason == "empty datagram"


def test_names_stay_the_same_object_while_the_layout_stays(case: DecoderCase) -> None:
    """The names of a steady sender are one tuple object, so that a layout is bound once."""
    decoder, encoder = case.decoder(), case.encoder()
    names = [
        result.names
        for number in range(10)
        for result in read(decoder, encoder.encode(number * 0.1, number, case.fields))
        if isinstance(result, DecodedRecord)
    ]
    assert all(each is names[0] for each in names)


def test_changed_columns_are_correct(case: DecoderCase) -> None:
    """Where a decoder lists the columns that differ from an earlier record, all other columns are equal."""
    decoder, encoder = case.decoder(), case.encoder()
    lists: list[list[RawValue]] = []
    for number in range(10):
        want = {**case.fields, "n2": float(number // 2), "on": number % 3 == 0}
        for result in read(decoder, encoder.encode(number * 0.1, number, want)):
            if not isinstance(result, DecodedRecord):
                continue
            if result.base is not None:
                assert any(result.base is earlier for earlier in lists)
                same = set(range(len(result.values))) - set(result.changed)
                assert all(result.values[column] == result.base[column] for column in same)
            lists.append(result.values)


def test_format_and_framing_are_set(case: DecoderCase) -> None:
    """A decoder has a name for map files, and a framing for streams."""
    decoder = case.decoder()
    assert decoder.format
    assert decoder.framing
