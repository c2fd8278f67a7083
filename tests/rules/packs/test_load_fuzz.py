"""Any text gives a pack or faults, and no other error."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rules.faults import InputFaults
from rules.source import PlainData, parse_source
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_text

_SOME = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _outcome(folder: Path, text: str) -> tuple[bool, list[str]]:
    """True if a text loads, and its faults; any other error fails the test."""
    try:
        return True, [str(fault) for fault in load_text(folder, text).faults]
    except InputFaults as error:
        return False, [str(fault) for fault in error.faults]


@_SOME
@given(start=st.integers(0, len(COMPLETE_PACK)), length=st.integers(0, 60), text=st.text(max_size=20))
def test_a_damaged_text_is_read_or_refused(tmp_path: Path, start: int, length: int, text: str) -> None:
    """A pack with any part of its text replaced loads or is refused with faults, always the same."""
    torn = COMPLETE_PACK[:start] + text + COMPLETE_PACK[start + length :]
    try:
        torn.encode()
    except UnicodeEncodeError:
        torn = COMPLETE_PACK[:start]
    loaded, faults = _outcome(tmp_path, torn)
    assert loaded or faults
    assert _outcome(tmp_path, torn) == (loaded, faults)


def _paths(data: PlainData, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Paths of all values in plain data."""
    yield path
    for key, value in (
        data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    ):
        yield from _paths(value, (*path, key))


def _replaced(data: PlainData, path: tuple[str | int, ...], value: PlainData) -> PlainData:
    """Data with the value at a path replaced."""
    if not path:
        return value
    head, rest = path[0], path[1:]
    if isinstance(data, dict):
        return {key: _replaced(part, rest, value) if key == head else part for key, part in data.items()}
    if isinstance(data, list):
        return [_replaced(part, rest, value) if number == head else part for number, part in enumerate(data)]
    return data


_DATA = parse_source(COMPLETE_PACK, "whole.yaml").data
_ANY: st.SearchStrategy[PlainData] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12) | st.sampled_from(["flow before_start", "captain", "lights.beacon is on", "2 s", "remove"]),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["title", "remove", "hold", "item", "a"]), inner, max_size=3),
    max_leaves=5,
)  # fmt: skip


@_SOME
@given(path=st.sampled_from(list(_paths(_DATA))), value=_ANY)
def test_any_value_anywhere_is_read_or_refused(
    tmp_path: Path, path: tuple[str | int, ...], value: PlainData
) -> None:
    """A pack with any value at any place loads or is refused with faults."""
    text = json.dumps(_replaced(_DATA, path, value))
    loaded, faults = _outcome(tmp_path, text)
    assert loaded or faults
