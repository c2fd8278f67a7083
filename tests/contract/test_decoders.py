"""What every decoder must do, whoever wrote it; see `registry` for adding one."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import ColumnHeading, DecodedRecord, Decoder, RawValue, Reject
from tests.contract.decoder_cases import DECODERS, DecoderCase

Said = DecodedRecord | ColumnHeading | Reject


@pytest.fixture(params=list(DECODERS.values()), ids=list(DECODERS))
def case(request: pytest.FixtureRequest) -> DecoderCase:
    """Each decoder of the registry."""
    chosen: DecoderCase = request.param
    return chosen


def well_formed(said: Said) -> None:
    """Whatever a decoder says has to be usable by what comes after it."""
    if isinstance(said, DecodedRecord):
        assert len(said.names) == len(said.values)
        assert isinstance(said.names, tuple)
        for value in said.values:
            assert value is None or isinstance(value, float | int | str)
            assert not isinstance(value, float) or math.isfinite(value)
    elif isinstance(said, Reject):
        assert said.reason
        assert len(str(said)) < 1000
    else:
        assert said.names


def read(decoder: Decoder, datagrams: list[bytes]) -> list[Said]:
    """All records of some datagrams."""
    return [decoder.decode(record) for data in datagrams for record in decoder.split(data)]


def fields(decoder: Decoder, datagrams: list[bytes]) -> dict[str, RawValue]:
    """The fields of the last record, without clock and count."""
    said = read(decoder, datagrams)[-1]
    assert isinstance(said, DecodedRecord), said
    found = dict(zip(said.names, said.values, strict=True))
    return {name: value for name, value in found.items() if name not in ("time", "Time", "sequence")}


def test_what_the_encoder_writes_is_read_back(case: DecoderCase) -> None:
    """A round trip gives the same fields with the same kinds, record after record while values change."""
    decoder, encoder = case.decoder(), case.encoder()
    for number in range(12):
        want = {**case.fields, "n2": number * 1.1}
        assert fields(decoder, encoder.encode(number * 0.05, number, want)) == want


def test_no_value_survives_the_round_trip(case: DecoderCase) -> None:
    """None stays None for its field, and all other fields keep their values."""
    decoder, encoder = case.decoder(), case.encoder()
    for name in case.fields:
        want = {**case.fields, name: None}
        assert fields(decoder, encoder.encode(1.0, 1, want)) == want


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_nan_and_infinity_never_come_out(case: DecoderCase, bad: float) -> None:
    """A sender's NaN or infinity costs its field or its record, never another field and never the process."""
    decoder, encoder = case.decoder(), case.encoder()
    for number in range(8):
        for said in read(decoder, encoder.encode(1.0, number, {**case.fields, "n2": bad})):
            well_formed(said)
            if isinstance(said, DecodedRecord):
                found = dict(zip(said.names, said.values, strict=True))
                assert found["n2"] is None
                assert found["gear"] == case.fields["gear"]


@given(st.binary(max_size=200))
def test_random_bytes_never_raise(data: bytes) -> None:
    """Whatever the bytes, a decoder answers, and its answer is well formed."""
    for case in DECODERS.values():
        decoder = case.decoder()
        for record in decoder.split(data):
            well_formed(decoder.decode(record))


@given(st.text(alphabet='{}[]:,"=0123456789.+-eENnIi \n\\tfab<LABELS>_\x00é', max_size=120))
def test_random_text_never_raises(text: str) -> None:
    """Nor do texts that look nearly right."""
    for case in DECODERS.values():
        decoder = case.decoder()
        for record in decoder.split(text.encode()):
            well_formed(decoder.decode(record))


@given(st.data())
def test_damaged_records_never_raise_nor_spoil_the_next(data: st.DataObject) -> None:
    """A record with bytes changed anywhere is answered, and the good one after it is read as if nothing had been."""
    for case in DECODERS.values():
        decoder, encoder = case.decoder(), case.encoder()
        for number in range(6):
            read(decoder, encoder.encode(number * 0.05, number, case.fields))
        damaged = bytearray(encoder.encode(1.0, 7, case.fields)[-1])
        for place, byte in data.draw(
            st.lists(st.tuples(st.integers(0, len(damaged) - 1), st.integers(0, 255)), max_size=4)
        ):
            damaged[place] = byte
        for said in read(decoder, [bytes(damaged)]):
            well_formed(said)
        assert fields(decoder, encoder.encode(2.0, 8, {**case.fields, "n2": 7.5})) == {
            **case.fields,
            "n2": 7.5,
        }


def test_a_record_cut_at_any_byte_is_answered(case: DecoderCase) -> None:
    """Every beginning of a record is answered; where the format allows it, as a refusal."""
    encoder = case.encoder()
    *before, whole = encoder.encode(1.0, 1, case.fields)
    end = len(whole.rstrip(b"\n")) if whole.endswith(b"\n") else len(whole)
    for cut in range(end):
        decoder = case.decoder()
        read(decoder, before)
        said = decoder.decode(whole[:cut])
        well_formed(said)
        assert isinstance(said, Reject) or not case.rejects_cuts


@pytest.mark.parametrize("byte", [b"\x00", b" ", b"1", b"{", b"=", b",", b"\xff", b"\x81", b"["])
def test_60_kilobytes_of_one_byte_are_answered(case: DecoderCase, byte: bytes) -> None:
    """A huge datagram of nonsense is answered, and costs no more than its refusal."""
    decoder = case.decoder()
    for record in decoder.split(byte * 60_000):
        well_formed(decoder.decode(record))


def test_beyond_the_largest_is_refused_unread(case: DecoderCase) -> None:
    """A record larger than any link hands on is refused for its size."""
    said = case.decoder().decode(b"1" * 70_000)
    assert isinstance(said, Reject)
    assert said.reason == "too large"


@pytest.mark.parametrize("empty", [b"", b" ", b"\r\n"])
def test_empty_is_refused_as_empty(case: DecoderCase, empty: bytes) -> None:
    """Nothing is told apart from something that cannot be read."""
    said = case.decoder().decode(empty)
    assert isinstance(said, Reject)
    assert said.reason == "empty datagram"


def test_names_stay_the_same_object_while_the_layout_stays(case: DecoderCase) -> None:
    """The names of a steady sender are one tuple, so that a layout is bound once."""
    decoder, encoder = case.decoder(), case.encoder()
    names = [
        said.names
        for number in range(10)
        for said in read(decoder, encoder.encode(number * 0.1, number, case.fields))
        if isinstance(said, DecodedRecord)
    ]
    assert all(each is names[0] for each in names)


def test_changed_columns_are_true(case: DecoderCase) -> None:
    """Where a decoder says which columns differ from an earlier list, exactly those others are equal."""
    decoder, encoder = case.decoder(), case.encoder()
    lists: list[list[RawValue]] = []
    for number in range(10):
        want = {**case.fields, "n2": float(number // 2), "on": number % 3 == 0}
        for said in read(decoder, encoder.encode(number * 0.1, number, want)):
            if not isinstance(said, DecodedRecord):
                continue
            if said.base is not None:
                assert any(said.base is earlier for earlier in lists)
                same = set(range(len(said.values))) - set(said.changed)
                assert all(said.values[column] == said.base[column] for column in same)
            lists.append(said.values)


def test_format_and_framing_are_told(case: DecoderCase) -> None:
    """A decoder has a name for map files, and says how a stream of its records is cut."""
    decoder = case.decoder()
    assert decoder.format
    assert decoder.framing
