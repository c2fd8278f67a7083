"""Tests of an erasure that is killed at any step, and run again."""

from __future__ import annotations

import os
import signal
import sys
from itertools import count
from pathlib import Path
from types import FrameType

import pytest
from sqlalchemy import select

from bridge.privacy import vacuum
from bridge.privacy.erasure import erase
from bridge.privacy.pseudonyms import Redactor
from bridge.privacy.redact_recordings import scan_recording
from bridge.recording.reader import open_recording
from bridge.recording.recording_budget import list_recordings
from bridge.rejudge.judging import rejudge
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import open_store, read_transaction
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import HERON, find_name, record_two_sessions

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is forked and killed")


@pytest.mark.parametrize(
    ("function", "nth"),
    [
        ("_drain_spools", 1),
        ("scan_recording", 2),
        ("remove_stale_copies", 1),
        ("MessageRedactor.redact", 20),
        ("_verify_copy", 1),
        ("sync_folder", 1),
        ("_verify_copy", 2),
        ("_erase_from_tables", 1),
        ("_redact_column", 4),
        ("mark_pending", 1),
        ("run_vacuum", 1),
        ("clear_pending", 2),
    ],
)
def test_a_run_after_a_kill_finishes_the_erasure(
    address: str, pack: Pack, tmp_path: Path, function: str, nth: int
) -> None:
    """Wherever a run is killed, the next one removes the pseudonym everywhere, and recordings are judged the same."""
    data_dir = DataDir(tmp_path)
    record_two_sessions(pack, data_dir, address)
    assert _killed_in(function, nth, data_dir, address)
    for recording in list_recordings(data_dir.recordings):
        assert rejudge(open_recording(recording.parts[0]), pack).same
    engine = open_store(address)
    assert erase(HERON, engine, data_dir, address).problem == ""
    with read_transaction(engine) as connection:
        assert connection.execute(select(schema.person.c.pseudonym)).scalars().all() == ["Plover", "Teal"]
        assert not vacuum.is_pending(connection)
    with pytest.raises(InputFaults, match="unknown pseudonym"):
        erase(HERON, engine, data_dir, address)
    engine.dispose()
    assert find_name(HERON, data_dir) == []
    assert list(data_dir.recordings.glob("*.copy")) == []
    for recording in list_recordings(data_dir.recordings):
        assert rejudge(open_recording(recording.parts[0]), pack).same
        assert scan_recording(recording, Redactor(HERON)).matching_parts == []


_FOLDERS = (f"bridge{os.sep}privacy", f"bridge{os.sep}common")
"""The folders whose functions are meant: others may have functions of the same name."""


def _killed_in(function: str, nth: int, data_dir: DataDir, address: str) -> bool:
    """Erase in another process that is killed at the nth call of a function."""
    child = os.fork()
    if child == 0:
        calls = count(1)

        def kill(frame: FrameType, event: str, _: object) -> None:
            code = frame.f_code
            is_ours = any(each in code.co_filename for each in _FOLDERS) and code.co_qualname == function
            if event == "call" and is_ours and next(calls) == nth:
                os.kill(os.getpid(), signal.SIGKILL)

        engine = open_store(address)
        sys.setprofile(kill)
        try:
            erase(HERON, engine, data_dir, address)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
