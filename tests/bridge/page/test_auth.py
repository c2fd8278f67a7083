"""Tests of bridge.page.auth: a key that cannot be guessed, and one that is kept."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from bridge.page.auth import MIN_KEY_LENGTH, AccessKey, load_or_create_key, new_key
from rules.faults import InputFaults


@pytest.mark.parametrize(
    "given", ["", "a-key", "a-key-for-tests ", "A-KEY-FOR-TESTS", "schlüssel", "\udcff" * 3]
)
def test_only_the_key_itself_opens(given: str) -> None:
    """Nothing but the very key opens; odd letters are refused, not choked on."""
    key = AccessKey("a-key-for-tests")
    assert key.matches("a-key-for-tests")
    assert not key.matches(given)


def test_new_keys_differ_and_are_one_word() -> None:
    """Keys are made at random, long enough, and can be typed as one word."""
    keys = {new_key().text for _ in range(50)}
    assert len(keys) == 50
    assert all(len(key) >= MIN_KEY_LENGTH and key.isascii() and " " not in key for key in keys)


def test_a_key_is_kept_for_the_next_run(tmp_path: Path) -> None:
    """A missing file is written, readable by its owner alone, and gives the same key again."""
    path = tmp_path / "key"
    first = load_or_create_key(path)
    assert load_or_create_key(path) == first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("text", ["", "short", "two words here", "Schlüsselwort", "x" * 7, "tab\there it is"])
def test_what_is_no_key_is_said_with_its_place(tmp_path: Path, text: str) -> None:
    """A file without a fit key is refused with its name and what to do."""
    path = tmp_path / "key"
    path.write_text(text, "utf-8")
    with pytest.raises(InputFaults) as refused:
        load_or_create_key(path)
    (fault,) = refused.value.faults
    assert fault.place.file == str(path)
    assert fault.expected
    assert "remove the file" in fault.hint


def test_a_file_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    """A folder in the key's place, or bytes that are no text, are refused as faults."""
    with pytest.raises(InputFaults):
        load_or_create_key(tmp_path)
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputFaults):
        load_or_create_key(tmp_path / "bytes")
