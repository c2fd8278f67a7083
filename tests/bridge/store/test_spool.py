"""Tests of the spool: written, cut, damaged, on a full disk, locked."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.session.change_text import change_columns
from bridge.session.session_events import RemarkAdded, SessionEnded
from bridge.store import spool_records
from bridge.store.spool import SpoolReader, SpoolWriter, decode_line, encode_line, spool_paths
from bridge.store.spool_records import RecordBody

NAME = "a" * 32


def _remark(text: str, sim_s: float = 1.0) -> RecordBody:
    return spool_records.RemarkRecord(RemarkAdded(sim_s, 2.0, text, "instructor"))


def _texts(folder: Path) -> list[str]:
    (path,) = spool_paths(folder)
    return [
        record.body.remark.text
        for record, _ in SpoolReader(path).next_records(1000)
        if isinstance(record.body, spool_records.RemarkRecord)
    ]


def test_records_are_read_back(tmp_path: Path) -> None:
    """Records are read back unchanged, numbered from 1 in order."""
    writer = SpoolWriter(tmp_path, NAME)
    change = spool_records.ChangeRecord(1.0, *change_columns(SessionEnded(1.0, 2.0, "over", "instructor")))
    assert writer.write(5.0, [_remark("one"), _remark("two")])
    assert writer.write(6.0, [change])
    writer.close()
    records = [record for record, _ in SpoolReader(tmp_path / f"{NAME}.spool").next_records(10)]
    assert [(record.number, record.utc) for record in records] == [(1, 5.0), (2, 5.0), (3, 6.0)]
    assert records[2].body == change


def test_reading_continues_after_applied_records(tmp_path: Path) -> None:
    """A reader continues after the records that are applied, also while the file grows."""
    writer = SpoolWriter(tmp_path, NAME)
    writer.write(5.0, [_remark(str(n)) for n in range(5)])
    reader = SpoolReader(tmp_path / f"{NAME}.spool")
    first = reader.next_records(3)
    assert [record.number for record, _ in first] == [1, 2, 3]
    reader.mark_applied(first[-1][1])
    writer.write(6.0, [_remark("six")])
    assert [record.number for record, _ in reader.next_records(10)] == [4, 5, 6]
    writer.close()


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40), st.floats(allow_nan=False, allow_infinity=False))
def test_any_text_is_read_back(text: str, sim_s: float) -> None:
    """Every text and time is read back; only unpaired surrogates are replaced."""
    record = spool_records.SpoolRecord(1, 0.0, _remark(text, sim_s))
    decoded = decode_line(encode_line(record))
    assert decoded is not None
    assert isinstance(decoded.body, spool_records.RemarkRecord)
    assert decoded.body.remark.sim_s == sim_s
    assert decoded.body.remark.text == text.encode(errors="replace").decode()


@given(st.integers(0, 400))
def test_a_cut_file_has_its_complete_lines(cut: int) -> None:
    """Wherever the file is cut, exactly the complete lines are read."""
    data = b"".join(
        encode_line(spool_records.SpoolRecord(n, 1.0, _remark(f"remark {n}"))) for n in range(1, 4)
    )
    ends = [i + 1 for i, byte in enumerate(data) if byte == ord("\n")]
    complete = [record for record in data[:cut].splitlines(keepends=True) if decode_line(record) is not None]
    assert len(complete) == sum(end <= min(cut, len(data)) for end in ends)


def test_a_damaged_line_hides_no_other(tmp_path: Path) -> None:
    """A changed byte costs its line and no other."""
    writer = SpoolWriter(tmp_path, NAME)
    for text in ("one", "two", "three"):
        writer.write(1.0, [_remark(text)])
    writer.close()
    path = tmp_path / f"{NAME}.spool"
    path.write_bytes(path.read_bytes().replace(b'"two"', b'"twX"'))
    assert _texts(tmp_path) == ["one", "three"]


def test_records_wait_while_the_disk_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the disk is full records wait; later all are written once, in order, over the incomplete line."""
    writer = SpoolWriter(tmp_path, NAME)
    writer.write(1.0, [_remark("before")])
    full = True

    def write(reader: int, data: bytes) -> int:
        if not full:
            return real(reader, data)
        real(reader, data[:20])
        raise OSError(errno.ENOSPC, "No space left on device")

    real = os.write
    monkeypatch.setattr("bridge.store.spool.os.write", write)
    assert not writer.write(2.0, [_remark("meanwhile")])
    assert (writer.problem, writer.pending) == ("No space left on device", 1)
    assert not writer.write(3.0, [_remark("and then")])
    full = False
    assert writer.flush()
    assert (writer.problem, writer.pending) == ("", 0)
    writer.close()
    assert _texts(tmp_path) == ["before", "meanwhile", "and then"]


def test_a_full_device_of_the_system(tmp_path: Path) -> None:
    """The system's error for a full disk is a problem, not an exception."""
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    (tmp_path / f"{NAME}.spool").symlink_to("/dev/full")
    writer = SpoolWriter(tmp_path, NAME)
    assert not writer.write(1.0, [_remark("one")])
    assert "space" in writer.problem
    writer.close()


def test_a_missing_folder_is_a_problem(tmp_path: Path) -> None:
    """Records wait until the folder exists."""
    (tmp_path / "spool").write_text("in the way")
    writer = SpoolWriter(tmp_path / "spool", NAME)
    assert not writer.write(1.0, [_remark("one")])
    assert writer.problem
    (tmp_path / "spool").unlink()
    assert writer.flush()
    assert _texts(tmp_path / "spool") == ["one"]
    writer.close()


def test_the_writer_locks_the_spool(tmp_path: Path) -> None:
    """A spool can be locked only after its writer has closed it."""
    writer = SpoolWriter(tmp_path, NAME)
    writer.write(1.0, [_remark("one")])
    reader = SpoolReader(tmp_path / f"{NAME}.spool")
    assert not reader.try_lock()
    writer.close()
    assert reader.try_lock()
    reader.remove()
    assert list(tmp_path.iterdir()) == []


def test_only_the_owner_can_read_a_spool(tmp_path: Path) -> None:
    """Only the owner of the file can read it."""
    writer = SpoolWriter(tmp_path, NAME)
    writer.write(1.0, [_remark("one")])
    writer.close()
    assert (tmp_path / f"{NAME}.spool").stat().st_mode & 0o077 == 0
