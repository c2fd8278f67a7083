"""The spool: written, cut, spoilt, full, locked."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.session.session_events import RemarkAdded, SessionChanged, SessionChangeKind
from bridge.store import spool_records
from bridge.store.spool import SpoolReader, SpoolWriter, decode_line, encode_line, spool_paths
from bridge.store.spool_records import RecordBody

NAME = "a" * 32


def _remark(text: str, sim_s: float = 1.0) -> RecordBody:
    return spool_records.RemarkRecord(RemarkAdded(sim_s, 2.0, text, "instructor"))


def _texts(folder: Path) -> list[str]:
    (path,) = spool_paths(folder)
    return [
        line.body.remark.text
        for line, _ in SpoolReader(path).next_records(1000)
        if isinstance(line.body, spool_records.RemarkRecord)
    ]


def test_what_is_written_is_read(tmp_path: Path) -> None:
    """Lines come back as they were, numbered from 1 in their order."""
    writing = SpoolWriter(tmp_path, NAME)
    note = spool_records.SessionEventRecord(
        SessionChanged(1.0, 2.0, SessionChangeKind.ENDED, "over", "instructor")
    )
    assert writing.write(5.0, [_remark("one"), _remark("two")])
    assert writing.write(6.0, [note])
    writing.close()
    lines = [line for line, _ in SpoolReader(tmp_path / f"{NAME}.spool").next_records(10)]
    assert [(line.number, line.utc) for line in lines] == [(1, 5.0), (2, 5.0), (3, 6.0)]
    assert lines[2].body == note


def test_lines_are_read_in_pieces_and_from_where_they_were_left(tmp_path: Path) -> None:
    """A reader that has put a piece into the store goes on behind it, also as the file grows."""
    writing = SpoolWriter(tmp_path, NAME)
    writing.write(5.0, [_remark(str(n)) for n in range(5)])
    file = SpoolReader(tmp_path / f"{NAME}.spool")
    piece = file.next_records(3)
    assert [line.number for line, _ in piece] == [1, 2, 3]
    file.mark_applied(piece[-1][1])
    writing.write(6.0, [_remark("six")])
    assert [line.number for line, _ in file.next_records(10)] == [4, 5, 6]
    writing.close()


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40), st.floats(allow_nan=False, allow_infinity=False))
def test_any_text_goes_through(text: str, sim_s: float) -> None:
    """Every text and time comes back, whatever its characters; only halves of characters are replaced."""
    line = spool_records.SpoolRecord(1, 0.0, _remark(text, sim_s))
    back = decode_line(encode_line(line))
    assert back is not None
    assert isinstance(back.body, spool_records.RemarkRecord)
    assert back.body.remark.sim_s == sim_s
    assert back.body.remark.text == text.encode(errors="replace").decode()


@given(st.integers(0, 400))
def test_a_cut_is_a_prefix(cut: int) -> None:
    """Wherever the file was cut, exactly the lines that are whole are read."""
    data = b"".join(
        encode_line(spool_records.SpoolRecord(n, 1.0, _remark(f"remark {n}"))) for n in range(1, 4)
    )
    ends = [i + 1 for i, byte in enumerate(data) if byte == ord("\n")]
    kept_lines = [line for line in data[:cut].splitlines(keepends=True) if decode_line(line) is not None]
    assert len(kept_lines) == sum(end <= min(cut, len(data)) for end in ends)


def test_a_spoilt_line_does_not_hide_those_behind_it(tmp_path: Path) -> None:
    """A byte that was turned over costs its line and no other."""
    writing = SpoolWriter(tmp_path, NAME)
    for text in ("one", "two", "three"):
        writing.write(1.0, [_remark(text)])
    writing.close()
    path = tmp_path / f"{NAME}.spool"
    path.write_bytes(path.read_bytes().replace(b'"two"', b'"twX"'))
    assert _texts(tmp_path) == ["one", "three"]


def test_a_full_disk_keeps_lines_in_memory_and_writes_them_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the disk is full, lines wait; then all are written, once, in their order, over the half that was written."""
    writing = SpoolWriter(tmp_path, NAME)
    writing.write(1.0, [_remark("before")])
    full = True

    def write(file: int, data: bytes) -> int:
        if not full:
            return real(file, data)
        real(file, data[:20])
        raise OSError(errno.ENOSPC, "No space left on device")

    real = os.write
    monkeypatch.setattr("bridge.store.spool.os.write", write)
    assert not writing.write(2.0, [_remark("meanwhile")])
    assert (writing.trouble, writing.pending) == ("No space left on device", 1)
    assert not writing.write(3.0, [_remark("and then")])
    full = False
    assert writing.flush()
    assert (writing.trouble, writing.pending) == ("", 0)
    writing.close()
    assert _texts(tmp_path) == ["before", "meanwhile", "and then"]


def test_the_system_s_own_full_device(tmp_path: Path) -> None:
    """The disk being full is an answer of the system that is understood, not an exception."""
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    (tmp_path / f"{NAME}.spool").symlink_to("/dev/full")
    writing = SpoolWriter(tmp_path, NAME)
    assert not writing.write(1.0, [_remark("one")])
    assert "space" in writing.trouble
    writing.close()


def test_a_folder_that_is_none_is_trouble_and_no_more(tmp_path: Path) -> None:
    """Where no file can be made, lines wait until one can."""
    (tmp_path / "spool").write_text("in the way")
    writing = SpoolWriter(tmp_path / "spool", NAME)
    assert not writing.write(1.0, [_remark("one")])
    assert writing.trouble
    (tmp_path / "spool").unlink()
    assert writing.flush()
    assert _texts(tmp_path / "spool") == ["one"]
    writing.close()


def test_who_writes_holds_the_spool(tmp_path: Path) -> None:
    """A spool belongs to nobody only after its writer has let go of it."""
    writing = SpoolWriter(tmp_path, NAME)
    writing.write(1.0, [_remark("one")])
    file = SpoolReader(tmp_path / f"{NAME}.spool")
    assert not file.try_lock()
    writing.close()
    assert file.try_lock()
    file.remove()
    assert list(tmp_path.iterdir()) == []


def test_only_its_owner_reads_it(tmp_path: Path) -> None:
    """What people did is not for other accounts of the machine."""
    writing = SpoolWriter(tmp_path, NAME)
    writing.write(1.0, [_remark("one")])
    writing.close()
    assert (tmp_path / f"{NAME}.spool").stat().st_mode & 0o077 == 0
