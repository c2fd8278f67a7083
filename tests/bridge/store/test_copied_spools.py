"""Tests of a store of several machines into which a copy of a data folder was put, on both databases."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.store import schema
from bridge.store.store_writer import StoreWriter
from tests.bridge.store.store_harness import BEGAN_UTC, StoreHarness


def _drain_copy(harness: StoreHarness, copy: Path, before: Callable[[], object] = lambda: None) -> None:
    """Put a copy of the spool into the store, as another machine does; `before` happens between copying and this."""
    shutil.copytree(harness.folder, copy, ignore=shutil.ignore_patterns("*.lock"))
    before()
    elsewhere = StoreWriter(copy, harness._address, clock=harness.clock)
    elsewhere.finish()
    assert (elsewhere.problem, list(copy.glob("*.spool"))) == ("", [])


@pytest.mark.parametrize("stored", [True, False])
def test_a_copied_spool_ends_a_running_session_until_its_next_record(
    harness: StoreHarness, tmp_path: Path, *, stored: bool
) -> None:
    """A session that a copied spool called broken off is open again with its next record, and then ends as any other."""
    harness.fly_push_back()
    if stored:
        harness.writer.poll()
    _drain_copy(harness, tmp_path / "copy")
    assert [row.ending for row in harness.rows(schema.session)] == ["broken off"]
    harness.request("remark", "", "still here")
    harness.writer.poll()
    assert [(row.ending, row.ended_utc) for row in harness.rows(schema.session)] == [("", None)]
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    harness.advance(5.0)
    harness.close()
    (session,) = harness.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("ended", harness.wall.now_s)


def test_an_old_copy_of_a_spool_ends_no_session(harness: StoreHarness, tmp_path: Path) -> None:
    """Where the store has later records than the copy, the session does not end with the copy."""
    harness.fly_push_back()

    def go_on() -> None:
        harness.request("remark", "", "after the copy")
        harness.writer.poll()

    _drain_copy(harness, tmp_path / "copy", go_on)
    (session,) = harness.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("", None)


def test_a_copied_spool_changes_no_end(harness: StoreHarness, tmp_path: Path) -> None:
    """A session that ended stays ended, also after a remark on it and after a copy of its spool."""
    harness.fly_push_back()
    harness.request("end")
    harness.writer.poll()
    _drain_copy(harness, tmp_path / "copy")
    harness.advance(5.0)
    harness.request("remark", "", "well flown")
    harness.close()
    (session,) = harness.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("ended", BEGAN_UTC + 7)


def test_a_session_that_was_opened_again_breaks_off_again(harness: StoreHarness, tmp_path: Path) -> None:
    """Where its program is killed later, the session broke off, with its last record."""
    harness.fly_push_back()
    _drain_copy(harness, tmp_path / "copy")
    harness.advance(5.0)
    harness.request("remark", "", "still here")
    assert harness.session_store._spooler is not None
    harness.session_store._spooler.spool._lock.release()  # as the system does when the process ends
    harness.writer.poll()
    (session,) = harness.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("broken off", BEGAN_UTC + 12)
