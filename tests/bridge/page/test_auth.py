"""Tests of bridge.page.auth: comparison, creation and storage of the access key."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from bridge.page.auth import MIN_KEY_LENGTH, AccessKey, load_or_create_key, new_key
from rules.faults import InputFaults


@pytest.mark.parametrize(
    "given", ["", "a-key", "a-key-for-tests ", "A-KEY-FOR-TESTS", "schlüssel", "\udcff" * 3]
)
def test_only_the_exact_key_matches(given: str) -> None:
    """Only the exact key matches; unusual characters are refused without an exception."""
    key = AccessKey("a-key-for-tests")
    assert key.matches("a-key-for-tests")
    assert not key.matches(given)


def test_new_keys_differ_and_are_one_word() -> None:
    """Keys are random, long enough, and one word."""
    keys = {new_key().text for _ in range(50)}
    assert len(keys) == 50
    assert all(len(key) >= MIN_KEY_LENGTH and key.isascii() and " " not in key for key in keys)


def test_a_missing_key_file_is_created(tmp_path: Path) -> None:
    """A missing file is created, readable by its owner only, and gives the same key again."""
    path = tmp_path / "key"
    first = load_or_create_key(path)
    assert load_or_create_key(path) == first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("text", ["", "short", "two words here", "Schlüsselwort", "x" * 7, "tab\there it is"])
def test_an_invalid_key_is_reported_with_its_file(tmp_path: Path, text: str) -> None:
    """A file without a valid key is refused with its name and a remedy."""
    path = tmp_path / "key"
    path.write_text(text, "utf-8")
    with pytest.raises(InputFaults) as refused:
        load_or_create_key(path)
    (fault,) = refused.value.faults
    assert fault.place.file == str(path)
    assert fault.expected
    assert "remove the file" in fault.hint


def test_an_unreadable_key_file_is_reported(tmp_path: Path) -> None:
    """A folder instead of a file, or bytes that are not text, are reported as faults."""
    with pytest.raises(InputFaults):
        load_or_create_key(tmp_path)
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputFaults):
        load_or_create_key(tmp_path / "bytes")
