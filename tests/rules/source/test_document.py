"""Documents: data, positions, and every fault of a file in plain words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.faults import Fault, InputFaults, Place
from rules.source import PlainData, parse_source, read_source
from rules.source.text import MAX_BYTES
from rules.source.yaml_tree import MAX_VALUES, MAX_WRITTEN


def _faults(text: str, file: str = "t.yaml") -> list[str]:
    """Faults of a text, as printed."""
    with pytest.raises(InputFaults) as caught:
        parse_source(text, file)
    return [str(fault) for fault in caught.value.faults]


def _outcome(given_: str | Path) -> tuple[Fault, ...]:
    """Faults of a text or file, () where it is valid; any other exception fails the test."""
    try:
        source = parse_source(given_, "t.yaml") if isinstance(given_, str) else read_source(given_)
    except InputFaults as error:
        return error.faults or (Fault(Place(""), "faults without a fault"),)
    assert source.place(()).line == 1 or source.data is not None
    return ()


def test_places_of_keys_and_values() -> None:
    """Every key and value has its line and column."""
    source = parse_source("# top\ngates:\n  push_back:\n    needs: [flow a, flow b]\n", "t.yaml")
    assert str(source.place(("gates", "push_back", "needs", 1))) == "t.yaml:4:21"
    assert str(source.place(("gates", "push_back"), key=True)) == "t.yaml:3:3"
    assert source.place(("gates", "push_back", "needs")).text == "    needs: [flow a, flow b]"


def test_a_missing_key_has_the_place_of_its_parent() -> None:
    """A path that does not exist gets the place of its last existing part."""
    source = parse_source("gates:\n  push_back: {cue: a}\n", "t.yaml")
    assert str(source.place(("gates", "push_back", "entry"), key=True)) == "t.yaml:2:3"


def test_keys_can_be_whole_numbers() -> None:
    """Chapters have numbers as keys."""
    assert parse_source("28: {title: Fuel}", "t.yaml").data == {28: {"title": "Fuel"}}


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("a: 1\na: 2", "t.yaml:2:1: duplicate key a, expected once; the first is at t.yaml:1:1\n    a: 2\n    ^"),
        ("a:\n\t- b", "t.yaml:2:1: a tab, expected spaces for indentation\n     - b\n    ^"),
        ("a: &x [*x]", "t.yaml:1:8: alias *x is inside its own anchor, expected no circle\n    a: &x [*x]\n           ^"),
        ("a: *x", "t.yaml:1:4: alias *x names nothing, expected &x before it\n    a: *x\n       ^"),
        ("a: .nan", "t.yaml:1:4: .nan is not a finite number, expected a finite number\n    a: .nan\n       ^"),
        ("a: !run b", "t.yaml:1:4: tag !run is not used here, expected plain YAML without tags\n    a: !run b\n       ^"),
        ("a\n---\nb", "t.yaml:2:1: a second document begins here, expected one document in a file\n    ---\n    ^"),
        ("%YAML 1.1\n---\na: b", "t.yaml:2:1: a %YAML directive for another version, expected YAML 1.2\n    ---\n    ^"),
        ("a: 'b\n", "t.yaml:1:4: a quote that is never closed, expected a closing quote\n    a: 'b\n       ^"),
        ("a: b\x07", "t.yaml:1:5: character U+0007 is not allowed, expected printable text\n    a: b\ufffd\n        ^"),
        ("[a, b]: c", ("t.yaml:1:1: this cannot be a key, expected a word or a whole number\n    [a, b]: c\n    ^\n"
                      "    hint: put it in quotes")),
        ("true: c", ("t.yaml:1:1: this cannot be a key, expected a word or a whole number\n    true: c\n    ^\n"
                    "    hint: put it in quotes")),
        ("a: {b: c\nd: e", ("t.yaml:2:2: a brace that is not closed, expected ',' or '}'\n    d: e\n     ^\n"
                           "    hint: it began at t.yaml:1:4")),
        ("a: b: c", ("t.yaml:1:5: unexpected colon, expected one 'key: value' on a line\n    a: b: c\n        ^\n"
                    "    hint: check the indentation, and put text with ': ' in quotes")),
        ("a: '\\ud800'\nb: \"\\ud800\"", "t.yaml:2:4: incomplete surrogate pair, expected a whole character\n    b: \"\\ud800\"\n       ^"),
    ],
)  # fmt: skip
def test_faults_as_printed(text: str, printed: str) -> None:
    """Each kind of mistake has a plain fault with its line, caret and hint."""
    assert _faults(text) == [printed]


def test_all_faults_of_a_file_at_once() -> None:
    """Mistakes that do not stop the parser are all reported, in the order of the file."""
    text = "a: 1\na: 2\nb: .inf\nc: *nobody\nd: {e: 1, e: 2}\n"
    places = [fault.split(": ")[0] for fault in _faults(text)]
    assert places == ["t.yaml:2:1", "t.yaml:3:4", "t.yaml:4:4", "t.yaml:5:11"]


def test_depth_is_bounded() -> None:
    """A file of nothing but brackets is refused and does not overflow the stack."""
    assert "the nesting is too deep" in _faults("[" * 5000)[0]


def test_aliases_that_multiply() -> None:
    """A few lines that expand to thousands of millions of values are refused at once."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 12)]
    assert _faults("\n".join(lines))[0].split(", ")[1].endswith(f"at most {MAX_VALUES}")


def test_aliases_may_repeat() -> None:
    """An ordinary alias has the value of its anchor."""
    assert parse_source("a: &x {b: 1}\nc: *x", "t.yaml").data == {"a": {"b": 1}, "c": {"b": 1}}


def test_long_lines_are_not_printed() -> None:
    """A fault far along a long line is printed without the line."""
    fault = _faults('{"a": "' + "x" * 100_000 + '", "b": .nan}')[0]
    assert len(fault) < 200


def test_json_with_tabs() -> None:
    """JSON with tabs for indentation is valid, and its positions are correct."""
    source = parse_source('{\n\t"a": [1, true, null, "on"]\n}', "t.json")
    assert source.data == {"a": [1, True, None, "on"]}
    assert str(source.place(("a", 3))) == "t.json:2:23"


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity", "on", "1:30", "undefined"])
def test_json_has_no_bare_words(word: str) -> None:
    """A bare word in a .json file is refused."""
    assert "a bare word" in _faults('{"a": ' + word + "}", "t.json")[0]


_TEXT = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]) | st.sampled_from("\n\t"), max_size=20)
_JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**30), 10**30) | st.floats(allow_nan=False, allow_infinity=False) | _TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_TEXT, inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(_JSON)
def test_json_reads_as_python_reads_it(data: PlainData) -> None:
    """Any JSON document of printable texts gives the data that Python's own reader gives."""
    assert parse_source(json.dumps(data), "t.json").data == json.loads(json.dumps(data))


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Any text gives data or InputFaults, each with a place."""
    assert all(fault.place.line >= 1 and fault.place.column >= 1 for fault in _outcome(text))


@given(st.text("[]{}:,-?&*!|>'\"%@`# \n\tab1.\\uxU0", max_size=80))
def test_any_text_of_yaml_signs_is_read_or_refused(text: str) -> None:
    """Any text of YAML's own signs gives data or InputFaults."""
    assert all(fault.what for fault in _outcome(text))


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    """Any bytes in a file give data or InputFaults."""
    path = tmp_path_factory.getbasetemp() / "any.yaml"
    path.write_bytes(raw)
    assert all(fault.what and fault.place.file == str(path) for fault in _outcome(path))


def _read_faults(path: Path) -> str:
    """Faults of a file, as printed."""
    with pytest.raises(InputFaults) as caught:
        read_source(path)
    return str(caught.value)


def test_missing_file_names_its_neighbour(tmp_path: Path) -> None:
    """A missing file is reported with a similar name beside it."""
    (tmp_path / "gates.yaml").write_text("a: b")
    assert (
        _read_faults(tmp_path / "gate.yaml")
        == f"{tmp_path}/gate.yaml: no such file\n    hint: did you mean gates.yaml?"
    )


def test_missing_folder(tmp_path: Path) -> None:
    """A missing folder is reported."""
    assert _read_faults(tmp_path / "no" / "gate.yaml") == f"{tmp_path}/no/gate.yaml: no such file"


def test_folder_instead_of_file(tmp_path: Path) -> None:
    """A folder in place of a file is reported."""
    assert _read_faults(tmp_path) == f"{tmp_path}: this is a folder, expected a file"


def test_path_through_a_file(tmp_path: Path) -> None:
    """A path through a file is reported."""
    (tmp_path / "a").write_text("")
    assert "a part of this path is a file" in _read_faults(tmp_path / "a" / "b.yaml")


def test_not_utf8(tmp_path: Path) -> None:
    """Bytes that are not UTF-8 are placed by line, column and byte."""
    path = tmp_path / "t.yaml"
    path.write_bytes(b"a: b\ncaf\xe9: c\n")
    assert _read_faults(path).splitlines() == [
        f"{path}:2:4: byte 8 (0xe9) is not UTF-8, expected text in UTF-8",
        "    caf\N{REPLACEMENT CHARACTER}",
        "       ^",
    ]


def test_too_big(tmp_path: Path) -> None:
    """A file over the size limit is refused before parsing."""
    path = tmp_path / "t.yaml"
    path.write_bytes(b"#" * (MAX_BYTES + 1))
    assert _read_faults(path) == f"{path}: the file is too big, expected at most 2000000 bytes"


def test_byte_order_mark(tmp_path: Path) -> None:
    """A byte order mark does not become part of the first key."""
    path = tmp_path / "t.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: b")
    assert read_source(path).data == {"a": "b"}


def test_empty_file() -> None:
    """A file with nothing but a comment is empty."""
    assert parse_source("# nothing\n", "t.yaml").data is None


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(f"key{n}: {n}" for n in range(MAX_WRITTEN)),
        "[" + "1," * MAX_WRITTEN + "1]",
        "[" + "{}," * MAX_WRITTEN + "{}]",
        "[" + "[]," * MAX_WRITTEN + "[]]",
        "a: &x 1\nb: [" + "*x," * MAX_WRITTEN + "*x]",
        "\n".join(f"k{n}: &a{n} 1" for n in range(MAX_WRITTEN)),
    ],
    ids=["keys", "numbers", "mappings", "lists", "aliases", "anchors"],
)
def test_a_file_of_too_many_keys_and_values_is_not_read_to_its_end(text: str) -> None:
    """Whatever it has so many of, reading stops there with one fault: no file takes longer than a second or two."""
    (fault,) = _faults(text)
    assert fault.endswith(f"too many keys and values, expected at most {MAX_WRITTEN}") or (
        f"too many keys and values, expected at most {MAX_WRITTEN}\n" in fault
    )
