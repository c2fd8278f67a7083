"""Tests of the text formats: grammar of values in labelled CSV, key=value and JSON, and damaged rows."""

from __future__ import annotations

import json

import pytest

from adapters.decoders.base import MAX_FIELDS, ColumnHeading, DecodedRecord, Decoder, RawValue, Reject
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.key_value import KeyValueDecoder
from adapters.decoders.labelled_csv import LabelledCsvDecoder


def fields(decoder: Decoder, data: bytes) -> dict[str, RawValue]:
    """Decode a record that must be readable."""
    decoded = decoder.decode(data)
    assert isinstance(decoded, DecodedRecord), decoded
    return dict(zip(decoded.names, decoded.values, strict=True))


def refused(decoder: Decoder, data: bytes) -> Reject:
    """Decode a record that must be refused."""
    decoded = decoder.decode(data)
    assert isinstance(decoded, Reject), decoded
    return decoded


@pytest.mark.parametrize(
    "number", ["1_000", "１２", "٣", "0x10", "1e", "--1", "1.2.3", "+-1", "1 2", "12;359", "1000ft"]
)
@pytest.mark.parametrize("form", ["{}", "7.{}"])
def test_numbers_outside_the_grammar_are_refused(number: str, form: str) -> None:
    """Numbers outside the ASCII grammar are refused in CSV and key=value, although Python's float accepts some."""
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
def test_every_form_of_the_number_grammar_is_read(number: str) -> None:
    """Each form of the number grammar gives its number."""
    assert fields(LabelledCsvDecoder(["a"]), number.encode()) == {"a": float(number)}
    assert fields(KeyValueDecoder(), f"a={number}".encode()) == {"a": float(number)}


@pytest.mark.parametrize(
    "nothing", ["", "nan", "-nan", "NaN", "inf", "-INF", "infinity", "1e400", "-1e999", "nan(ind)"]
)
def test_a_missing_value_affects_its_field_only(nothing: str) -> None:
    """NaN, infinity and an empty cell are None, and all other fields keep their values."""
    assert fields(LabelledCsvDecoder(["a", "b", "c"]), f"1,{nothing},3".encode()) == {
        "a": 1.0,
        "b": None,
        "c": 3.0,
    }
    if "(" not in nothing:
        assert fields(KeyValueDecoder(), f"a=1 b={nothing} c=3".encode()) == {"a": 1.0, "b": None, "c": 3.0}


def test_words_texts_and_truth_values_keep_their_type() -> None:
    """A word stays a word, quoted digits stay text, and true is not a number."""
    csv = LabelledCsvDecoder(["a", "b", "c", "d", "e"])
    assert fields(csv, b'off,"14",true,"say ""x"", please",on') == {
        "a": "off", "b": "14", "c": True, "d": 'say "x", please', "e": "on",
    }  # fmt: skip
    assert fields(KeyValueDecoder(), b'a=off b="14" c=true d="x ""y"" z" e=on')["d"] == 'x "y" z'


@pytest.mark.parametrize(
    ("row", "reason", "hint"),
    [
        (b"1,2", "row too short", ""),
        (b"1,2,3,4", "row too long", ""),
        (b"0,5,359,9,12,1", "row too long", "decimal comma"),
        (b"0;1;2", "row too short", "decimal comma"),
        (b'1,"a,2', "unterminated quote", ""),
        (b'1,2,"a', "unterminated quote", ""),
    ],
)
def test_a_row_of_another_width_is_refused(row: bytes, reason: str, hint: str) -> None:
    """A row without one value for each column is refused, with a hint where a decimal comma is the likely cause."""
    reject = refused(LabelledCsvDecoder(["a", "b", "c"]), row)
    assert reject.reason == reason
    assert hint in reject.hint


def test_a_refused_row_does_not_affect_the_next() -> None:
    """The row after a refused one is read in full."""
    csv = LabelledCsvDecoder(["a", "b"])
    assert fields(csv, b"1,2") == {"a": 1.0, "b": 2.0}
    refused(csv, b"5,6;7")
    assert fields(csv, b"1,3") == {"a": 1.0, "b": 3.0}


def test_a_duplicate_label_names_no_column() -> None:
    """Columns with the same label have no name but keep their positions, and the heading lists the label."""
    csv = LabelledCsvDecoder()
    heading = csv.decode(b"<LABELS> ,Time,n2,n2,flap")
    assert isinstance(heading, ColumnHeading)
    assert heading.ambiguous == ("n2",)
    decoded = csv.decode(b"1,20,60,5")
    assert isinstance(decoded, DecodedRecord)
    assert decoded.names == ("Time", "", "", "flap")
    assert decoded.values == [1.0, 20.0, 60.0, 5.0]


def test_a_heading_replaces_the_configured_order() -> None:
    """The order of the map file is used until a heading arrives."""
    csv = LabelledCsvDecoder(["Time", "b", "a"])
    assert fields(csv, b"1,2,3") == {"Time": 1.0, "b": 2.0, "a": 3.0}
    csv.decode(b"<LABELS> ,Time,a,b\r\n")
    assert fields(csv, b"1,2,3\r\n") == {"Time": 1.0, "a": 2.0, "b": 3.0}


def test_without_labels_two_rows_set_the_width() -> None:
    """A receiver without labels accepts the first width, and another width when it comes twice in a row."""
    csv = LabelledCsvDecoder()
    assert isinstance(csv.decode(b"1,2,3"), DecodedRecord)
    assert isinstance(csv.decode(b"1,2"), Reject)
    assert isinstance(csv.decode(b"1,2,3"), DecodedRecord)
    assert isinstance(csv.decode(b"1,2"), Reject)
    assert isinstance(csv.decode(b"1,2"), DecodedRecord)


def test_key_value_layout_may_change_between_records() -> None:
    """Keys in another order, and other keys, are read."""
    decoder = KeyValueDecoder()
    assert fields(decoder, b"a=1 b=2") == {"a": 1.0, "b": 2.0}
    assert fields(decoder, b"b=2 a=1") == {"b": 2.0, "a": 1.0}
    assert fields(decoder, b"c=3") == {"c": 3.0}


@pytest.mark.parametrize(
    "data", [b"=1", b"1a=2", b"a", b"a=1 b", b'a="x" "y"', "ä=1".encode(), b"a=1,5", b"a=5ft"]
)
def test_text_outside_the_key_value_grammar_is_refused(data: bytes) -> None:
    """A record outside the documented grammar is refused as a whole."""
    refused(KeyValueDecoder(), data)


def test_nested_json_is_dotted() -> None:
    """Nested objects become dotted names, list elements numbered ones."""
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
def test_a_duplicate_json_key_is_refused(data: bytes) -> None:
    """Two values for one name are refused in every notation."""
    assert refused(JsonDecoder(), data).reason == "duplicate key"


def test_a_duplicate_json_key_of_a_steady_sender_is_refused() -> None:
    """A duplicate key is refused also when the layout is known."""
    decoder = JsonDecoder()
    for count in range(10):
        assert fields(decoder, b'{"a":%d,"b":"x:y"}' % count) == {"a": count, "b": "x:y"}
    assert refused(decoder, b'{"a":1,"b":"x","a":2}').reason == "duplicate key"
    assert fields(decoder, b'{"b":"z","a":7}') == {"a": 7, "b": "z"}
    assert fields(decoder, b'{"c":7}') == {"c": 7}


def test_deep_json_is_refused() -> None:
    """Nesting beyond the limit is refused, also beyond the limit of the parser itself."""
    assert refused(JsonDecoder(), b'{"a":' * 12 + b"1" + b"}" * 12).reason == "nested too deep"
    refused(JsonDecoder(), b'{"a":' * 9000 + b"1" + b"}" * 9000)


@pytest.mark.parametrize("data", [b"[1,2]", b"3", b'"x"', b"null"])
def test_json_that_is_not_an_object_is_refused(data: bytes) -> None:
    """A JSON record must be an object."""
    assert refused(JsonDecoder(), data).reason == "not an object"


def test_lines_in_one_datagram_are_records() -> None:
    """Several rows, pairs or objects in a datagram are several records; one pretty-printed object is one."""
    assert len(LabelledCsvDecoder().split(b"1,2\n3,4\n")) == 2
    assert len(KeyValueDecoder().split(b"a=1\r\na=2\r\n")) == 2
    assert len(JsonDecoder().split(b'{"a":1}\n{"a":2}\n')) == 2
    pretty_printed = b'{\n  "a": 1\n}\n'
    assert [fields(JsonDecoder(), record) for record in JsonDecoder().split(pretty_printed)] == [{"a": 1}]


def test_a_refusal_names_the_format_it_looks_like() -> None:
    """The hint of a refusal names the format that the bytes look like."""
    assert refused(KeyValueDecoder(), b'{"a":1}').hint == "looks like json"
    assert refused(LabelledCsvDecoder(["a", "b"]), b"a=1 b=2").hint == "looks like key_value"
    assert refused(JsonDecoder(), b"\x81\xa1a\x01").hint == "looks like msgpack"
    assert refused(JsonDecoder(), b"<LABELS> ,Time,a").hint == "looks like labelled_csv"
    assert "NaN" in refused(JsonDecoder(), b'{"a":NaN}').hint


@pytest.mark.parametrize("nested", [True, False])
def test_as_many_fields_as_are_allowed_are_read_and_one_more_is_not(*, nested: bool) -> None:
    """The greatest number of fields is read, in one level or in two; with one more the record is refused."""

    def record(count: int) -> bytes:
        numbers = {f"f{number}": number for number in range(count)}
        return json.dumps({"all": numbers} if nested else numbers).encode()

    assert len(fields(JsonDecoder(), record(MAX_FIELDS))) == MAX_FIELDS
    assert refused(JsonDecoder(), record(MAX_FIELDS + 1)).reason == "too many fields"
