"""Tests of bridge.common.private_file, and that the store, the log and the key are private."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.common.private_file import close_to_others, make_private
from bridge.page.auth import load_or_create_key
from bridge.runtime.logging_setup import logging_to
from bridge.store.database import open_store, write_transaction

pytestmark = pytest.mark.skipif(os.name != "posix", reason="permissions are those of POSIX")


def mode(path: Path) -> int:
    """The permissions of a file."""
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture(autouse=True)
def open_umask() -> Iterator[None]:
    """Make files that everybody can read, where nothing else is said."""
    before = os.umask(0)
    yield
    os.umask(before)


def test_a_new_file_is_private_and_an_old_one_stays(tmp_path: Path) -> None:
    """What exists keeps its permissions and its content."""
    make_private(tmp_path / "new")
    (tmp_path / "old").write_text("text")
    make_private(tmp_path / "old")
    assert (mode(tmp_path / "new"), mode(tmp_path / "old")) == (0o600, 0o666)
    assert (tmp_path / "old").read_text() == "text"
    assert close_to_others(tmp_path / "old")
    assert not close_to_others(tmp_path / "old")
    assert mode(tmp_path / "old") == 0o600


def test_the_store_is_private(tmp_path: Path) -> None:
    """The database and the files beside it can be read by their owner only."""
    engine = open_store(f"sqlite:///{tmp_path}/store.sqlite")
    with write_transaction(engine) as connection:
        connection.exec_driver_sql("insert into setting (key, value) values ('a', '1')")
        assert {mode(path) for path in tmp_path.iterdir()} == {0o600}
    engine.dispose()


def test_the_log_is_private(tmp_path: Path) -> None:
    """The log names devices, persons and addresses."""
    with logging_to(tmp_path / "log"):
        assert mode(tmp_path / "log") == 0o600


def test_an_open_key_file_is_closed(tmp_path: Path) -> None:
    """A key that others could read is read by its owner only from then on."""
    path = tmp_path / "key"
    path.write_text("a-key-of-my-own\n")
    assert load_or_create_key(path).text == "a-key-of-my-own"
    assert mode(path) == 0o600
