"""Labelled CSV, key=value and JSON: what counts as a value, and what happens to rows that are not whole."""

from __future__ import annotations

import pytest

from adapters.decoders.base import ColumnHeading, DecodedRecord, Decoder, RawValue, Reject
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.key_value import KeyValueDecoder
from adapters.decoders.labelled_csv import LabelledCsvDecoder


def fields(decoder: Decoder, data: bytes) -> dict[str, RawValue]:
    """The fields of a record that must be readable."""
    said = decoder.decode(data)
    assert isinstance(said, DecodedRecord), said
    return dict(zip(said.names, said.values, strict=True))


def refused(decoder: Decoder, data: bytes) -> Reject:
    """The refusal of a record that must not be readable."""
    said = decoder.decode(data)
    assert isinstance(said, Reject), said
    return said


@pytest.mark.parametrize(
    "number", ["1_000", "１２", "٣", "0x10", "1e", "--1", "1.2.3", "+-1", "1 2", "12;359", "1000ft"]
)
@pytest.mark.parametrize("form", ["{}", "7.{}"])
def test_what_python_takes_for_a_number_is_none_on_the_wire(number: str, form: str) -> None:
    """Figures outside the ASCII grammar are refused in CSV and key=value, whatever Python's float would say."""
    text = number if form == "{}" else number + "x1_0"
    assert (
        refused(LabelledCsvDecoder(["Time", "a"]), f"1,{text}".encode()).reason
        == "not a number, word or quoted text"
    )
    assert refused(KeyValueDecoder(), f"t=1 a={text}".encode()).reason in (
        "not a number, word or quoted text",
        "not key=value",
    )


@pytest.mark.parametrize("number", ["1", "-1.", ".5", "+2.50", "1e3", "1E-3", "-0"])
def test_the_grammar_of_numbers_is_taken_whole(number: str) -> None:
    """Each form that the grammar names is the number that it looks like."""
    assert fields(LabelledCsvDecoder(["a"]), number.encode()) == {"a": float(number)}
    assert fields(KeyValueDecoder(), f"a={number}".encode()) == {"a": float(number)}


@pytest.mark.parametrize(
    "nothing", ["", "nan", "-nan", "NaN", "inf", "-INF", "infinity", "1e400", "-1e999", "nan(ind)"]
)
def test_no_value_costs_one_field_only(nothing: str) -> None:
    """NaN, infinity and an empty cell leave their field without a value and all others as they are."""
    assert fields(LabelledCsvDecoder(["a", "b", "c"]), f"1,{nothing},3".encode()) == {
        "a": 1.0,
        "b": None,
        "c": 3.0,
    }
    if "(" not in nothing:
        assert fields(KeyValueDecoder(), f"a=1 b={nothing} c=3".encode()) == {"a": 1.0, "b": None, "c": 3.0}


def test_words_texts_and_truths_keep_their_kind() -> None:
    """A word stays a word, quoted figures stay text, and true is no number."""
    csv = LabelledCsvDecoder(["a", "b", "c", "d", "e"])
    assert fields(csv, b'off,"14",true,"say ""x"", please",on') == {
        "a": "off", "b": "14", "c": True, "d": 'say "x", please', "e": "on",
    }  # fmt: skip
    assert fields(KeyValueDecoder(), b'a=off b="14" c=true d="x ""y"" z" e=on')["d"] == 'x "y" z'


@pytest.mark.parametrize(
    ("row", "why", "hint"),
    [
        (b"1,2", "row too short", ""),
        (b"1,2,3,4", "row too long", ""),
        (b"0,5,359,9,12,1", "row too long", "decimal comma"),
        (b"0;1;2", "row too short", "decimal comma"),
        (b'1,"a,2', "unterminated quote", ""),
        (b'1,2,"a', "unterminated quote", ""),
    ],
)
def test_a_row_of_another_width_is_refused(row: bytes, why: str, hint: str) -> None:
    """A row has one value for each column or is refused whole, with a hint where a decimal comma explains it."""
    reject = refused(LabelledCsvDecoder(["a", "b", "c"]), row)
    assert reject.reason == why
    assert hint in reject.hint


def test_refused_rows_leave_no_trace() -> None:
    """After a refused row the next good one is read as if it had never been."""
    csv = LabelledCsvDecoder(["a", "b"])
    assert fields(csv, b"1,2") == {"a": 1.0, "b": 2.0}
    refused(csv, b"5,6;7")
    assert fields(csv, b"1,3") == {"a": 1.0, "b": 3.0}


def test_a_label_that_stands_twice_names_nothing() -> None:
    """Columns with the same label have no name, keep their positions, and the heading says which label it was."""
    csv = LabelledCsvDecoder()
    heading = csv.decode(b"<LABELS> ,Time,n2,n2,flap")
    assert isinstance(heading, ColumnHeading)
    assert heading.ambiguous == ("n2",)
    said = csv.decode(b"1,20,60,5")
    assert isinstance(said, DecodedRecord)
    assert said.names == ("Time", "", "", "flap")
    assert said.values == [1.0, 20.0, 60.0, 5.0]


def test_a_heading_replaces_the_configured_order() -> None:
    """Labels that arrive count, the order of the map file serves only until then."""
    csv = LabelledCsvDecoder(["Time", "b", "a"])
    assert fields(csv, b"1,2,3") == {"Time": 1.0, "b": 2.0, "a": 3.0}
    csv.decode(b"<LABELS> ,Time,a,b\r\n")
    assert fields(csv, b"1,2,3\r\n") == {"Time": 1.0, "a": 2.0, "b": 3.0}


def test_without_names_two_rows_set_the_width() -> None:
    """A receiver without labels takes the first width, and another one only when it comes twice in a row."""
    csv = LabelledCsvDecoder()
    assert isinstance(csv.decode(b"1,2,3"), DecodedRecord)
    assert isinstance(csv.decode(b"1,2"), Reject)
    assert isinstance(csv.decode(b"1,2,3"), DecodedRecord)
    assert isinstance(csv.decode(b"1,2"), Reject)
    assert isinstance(csv.decode(b"1,2"), DecodedRecord)


def test_key_value_layout_may_change_between_records() -> None:
    """Keys in another order, or other keys, are read anew."""
    decoder = KeyValueDecoder()
    assert fields(decoder, b"a=1 b=2") == {"a": 1.0, "b": 2.0}
    assert fields(decoder, b"b=2 a=1") == {"b": 2.0, "a": 1.0}
    assert fields(decoder, b"c=3") == {"c": 3.0}


@pytest.mark.parametrize(
    "data", [b"=1", b"1a=2", b"a", b"a=1 b", b'a="x" "y"', "ä=1".encode(), b"a=1,5", b"a=5ft"]
)
def test_what_is_not_key_value_is_refused(data: bytes) -> None:
    """Text outside the published grammar is refused whole."""
    refused(KeyValueDecoder(), data)


def test_nested_json_is_dotted() -> None:
    """Objects inside objects become dotted names, lists numbered ones."""
    assert fields(JsonDecoder(), b'{"engine":{"1":{"n2":25}},"wow":[true,null]}') == {
        "engine.1.n2": 25, "wow[0]": True, "wow[1]": None,
    }  # fmt: skip


@pytest.mark.parametrize(
    "data",
    [
        b'{"a":1,"a":2}',
        b'{"a" :1,"a":2}',
        b'{"b":{"a":1,"a":2}}',
        b'{"a":1,"a":"x:y"}',
        b'{"a.b":1,"a":{"b":2}}',
    ],
)
def test_the_same_json_key_twice_is_refused(data: bytes) -> None:
    """Two values for one name are refused however they are written."""
    assert refused(JsonDecoder(), data).reason == "duplicate key"


def test_json_key_twice_is_refused_in_the_steady_way_too() -> None:
    """A sender whose layout was learnt cannot slip a second value in."""
    decoder = JsonDecoder()
    for count in range(10):
        assert fields(decoder, b'{"a":%d,"b":"x:y"}' % count) == {"a": count, "b": "x:y"}
    assert refused(decoder, b'{"a":1,"b":"x","a":2}').reason == "duplicate key"
    assert fields(decoder, b'{"b":"z","a":7}') == {"a": 7, "b": "z"}
    assert fields(decoder, b'{"c":7}') == {"c": 7}


def test_deep_json_is_refused() -> None:
    """Nesting beyond what any sender needs is refused, also far beyond what a parser can take."""
    assert refused(JsonDecoder(), b'{"a":' * 12 + b"1" + b"}" * 12).reason == "nested too deep"
    refused(JsonDecoder(), b'{"a":' * 9000 + b"1" + b"}" * 9000)


@pytest.mark.parametrize("data", [b"[1,2]", b"3", b'"x"', b"null"])
def test_json_that_is_no_object_is_refused(data: bytes) -> None:
    """A record is an object."""
    assert refused(JsonDecoder(), data).reason == "not an object"


def test_lines_in_one_datagram_are_records() -> None:
    """Several rows, pairs or objects in one datagram are several records; one object laid out in lines is one."""
    assert len(LabelledCsvDecoder().split(b"1,2\n3,4\n")) == 2
    assert len(KeyValueDecoder().split(b"a=1\r\na=2\r\n")) == 2
    assert len(JsonDecoder().split(b'{"a":1}\n{"a":2}\n')) == 2
    laid_out = b'{\n  "a": 1\n}\n'
    assert [fields(JsonDecoder(), record) for record in JsonDecoder().split(laid_out)] == [{"a": 1}]


def test_a_refusal_names_the_format_it_looks_like() -> None:
    """Bytes of another format are refused with that format as the hint."""
    assert refused(KeyValueDecoder(), b'{"a":1}').hint == "looks like json"
    assert refused(LabelledCsvDecoder(["a", "b"]), b"a=1 b=2").hint == "looks like key_value"
    assert refused(JsonDecoder(), b"\x81\xa1a\x01").hint == "looks like msgpack"
    assert refused(JsonDecoder(), b"<LABELS> ,Time,a").hint == "looks like labelled_csv"
    assert "NaN" in refused(JsonDecoder(), b'{"a":NaN}').hint
