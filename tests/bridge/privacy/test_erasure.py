"""Tests of erasure: the pseudonym is removed everywhere, and everything else stays."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from mcap.exceptions import EndOfFile
from mcap.records import Chunk
from mcap.stream_reader import StreamReader
from sqlalchemy import select

from bridge.privacy import erasure, vacuum
from bridge.privacy.erasure import erase
from bridge.privacy.pseudonyms import Redactor
from bridge.privacy.redact_recordings import RedactionResult, redact_recording, scan_recording
from bridge.recording.reader import open_recording
from bridge.recording.recording_budget import list_recordings
from bridge.recording.replay_judge import trip_of_head
from bridge.rejudge.judging import rejudge
from bridge.runtime.data_dir import DataDir
from bridge.store import schema, spool_records
from bridge.store.database import open_store, read_transaction, write_transaction
from bridge.store.spool import SpoolWriter
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import HERON, every_byte, find_name, find_word, record_two_sessions
from tests.postgres import Server


@pytest.fixture
def data_dir(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions, recorded and stored."""
    directory = DataDir(tmp_path / "data")
    record_two_sessions(pack, directory, address)
    return directory


def test_no_byte_has_the_pseudonym(pack: Pack, tmp_path: Path) -> None:
    """After an erasure no byte of the database file or of decompressed recordings has the pseudonym; other words stay."""
    data_dir = DataDir(tmp_path / "data")
    address = f"sqlite:///{data_dir.store}"
    record_two_sessions(pack, data_dir, address)
    assert len(find_name(HERON, data_dir)) > 10
    engine = open_store(address)
    report = erase("Heron", engine, data_dir, address)
    engine.dispose()
    assert find_name(HERON, data_dir) == []
    remaining = every_byte(data_dir)
    assert b"Herons'" in remaining
    assert b"Plover" in remaining
    assert len(report.redacted) == 2


def test_no_file_of_the_server_has_the_pseudonym(pack: Pack, tmp_path: Path, postgres: Server) -> None:
    """After an erasure no file of a PostgreSQL server has the pseudonym, except its write-ahead log."""
    postgres.sql("CREATE DATABASE erased TEMPLATE template")
    address = postgres.url("erased")
    data_dir = DataDir(tmp_path / "data")
    record_two_sessions(pack, data_dir, address)
    postgres.sql("ANALYZE", "erased")
    postgres.sql("CHECKPOINT")
    assert _on_the_server(postgres) > 0
    engine = open_store(address)
    erase(HERON, engine, data_dir, address)
    engine.dispose()
    postgres.sql("CHECKPOINT")
    remaining = _on_the_server(postgres)
    postgres.sql("DROP DATABASE erased WITH (FORCE)")
    assert remaining == 0


def _on_the_server(server: Server) -> int:
    """Count the table files with the pseudonym."""
    files = [path for path in (server.home / "data" / "base").rglob("*") if path.is_file()]
    return sum(find_word(HERON, path.read_bytes()) != [] for path in files)


def test_findings_stay_without_the_person(data_dir: DataDir, address: str) -> None:
    """Findings and seats stay without the erased person; others keep theirs."""
    engine = open_store(address)
    before = _findings(address)
    report = erase(HERON, engine, data_dir, address)
    engine.dispose()
    after = _findings(address)
    assert [row[:2] for row in after] == [row[:2] for row in before]
    assert {row[2] for row in before} == {"Heron", "Plover"}
    assert {row[2] for row in after} == {None, "Plover"}
    assert (report.sessions, report.findings) == (1, sum(row[2] == "Heron" for row in before))


def _findings(address: str) -> list[tuple[str, int, str | None]]:
    engine = open_store(address)
    with read_transaction(engine) as connection:
        joined = schema.finding.outerjoin(schema.person, schema.finding.c.person == schema.person.c.id)
        columns = schema.finding.c.session, schema.finding.c.number, schema.person.c.pseudonym
        rows = connection.execute(select(*columns).select_from(joined).order_by(*columns[:2])).all()
    engine.dispose()
    return [(row[0], row[1], row[2]) for row in rows]


def test_a_redacted_recording_is_judged_the_same(data_dir: DataDir, address: str, pack: Pack) -> None:
    """A redacted recording is complete, and is judged again to the byte."""
    before = {
        k.stem: sum(1 for _ in open_recording(k.parts[0]).messages())
        for k in list_recordings(data_dir.recordings)
    }
    engine = open_store(address)
    erase(HERON, engine, data_dir, address)
    engine.dispose()
    for each in list_recordings(data_dir.recordings):
        recording = open_recording(each.parts[0])
        assert trip_of_head(recording.head).title == "Lindmere 417"
        judged = rejudge(recording, pack)
        assert (judged.same, recording.fault) == (True, None)
        assert sum(1 for _ in recording.messages()) == before[each.stem]


@pytest.mark.parametrize(
    "name",
    ["captain", "Captain", "First officer", "push_approved", "flow", "flow.before.documents", "lights.beacon", "off", "Session",
     "1", "excused", "Al", "x", 'O"Hara', "a\\b", "Zoë", "Oystercatcher of the northern shore", "Captain: x", "instructor"],
)  # fmt: skip
def test_any_pseudonym_can_be_redacted(name: str, pack: Pack, tmp_path: Path) -> None:
    """Pseudonyms that are ids or words of the pack, longer or shorter than the replacement, damage no recording."""
    data_dir = DataDir(tmp_path / "data")
    address = f"sqlite:///{data_dir.store}"
    record_two_sessions(pack, data_dir, address, pseudonym=name)
    engine = open_store(address)
    report = erase(name, engine, data_dir, address)
    with read_transaction(engine) as connection:
        known = connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    engine.dispose()
    assert (report.sessions, len(report.redacted), report.removed) == (1, 2, [])
    assert known == ["Plover", "Teal"]
    for each in list_recordings(data_dir.recordings):
        assert scan_recording(each, Redactor(name)).matching_parts == []
        assert rejudge(open_recording(each.parts[0]), pack).same


def test_all_parts_are_redacted(pack: Pack, tmp_path: Path) -> None:
    """Later parts repeat earlier requests; they are redacted too, and each can be judged alone."""
    data_dir = DataDir(tmp_path / "data")
    address = f"sqlite:///{data_dir.store}"
    record_two_sessions(pack, data_dir, address, part=5_000)
    assert all(len(each.parts) > 2 for each in list_recordings(data_dir.recordings))
    assert all(
        len(scan_recording(each, Redactor(HERON)).matching_parts) > 1
        for each in list_recordings(data_dir.recordings)
    )
    engine = open_store(address)
    erase(HERON, engine, data_dir, address)
    engine.dispose()
    assert find_name(HERON, data_dir) == []
    for each in list_recordings(data_dir.recordings):
        recording = open_recording(each.parts[0])
        assert rejudge(recording, pack).same
        assert recording.fault is None
        assert open_recording(each.parts[-1]).head.part == len(each.parts)


def test_an_erased_person_cannot_be_erased_twice(data_dir: DataDir, address: str) -> None:
    """A second erasure of the same person is refused: the pseudonym is unknown."""
    engine = open_store(address)
    erase(HERON, engine, data_dir, address)
    with pytest.raises(InputFaults, match="unknown pseudonym"):
        erase(HERON, engine, data_dir, address)
    engine.dispose()


@pytest.mark.parametrize(
    "step", ["_scan_recordings", "_redact_files", "_erase_from_tables", "_redact_column"]
)
def test_an_interrupted_erasure_is_finished(
    data_dir: DataDir, address: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever a run is interrupted, the person is still known or completely erased; the next run finishes."""
    engine = open_store(address)
    with monkeypatch.context() as broken:
        broken.setattr(erasure, step, _interrupt)
        with pytest.raises(InterruptedRunError):
            erase(HERON, engine, data_dir, address)
    erase(HERON, engine, data_dir, address)
    with read_transaction(engine) as connection:
        assert HERON not in connection.execute(select(schema.person.c.pseudonym)).scalars().all()
        assert not any(
            Redactor(HERON).occurs_in(text)
            for text in connection.execute(select(schema.remark.c.text)).scalars()
        )
    engine.dispose()
    assert not any(
        scan_recording(recording_files, Redactor(HERON)).matching_parts
        for recording_files in list_recordings(data_dir.recordings)
    )


class InterruptedRunError(Exception):
    """The run ends here."""


def _interrupt(*_: object) -> int:
    raise InterruptedRunError


def test_a_pending_vacuum_is_finished(data_dir: DataDir, address: str) -> None:
    """A run that was interrupted before the vacuum is finished too."""
    engine = open_store(address)
    erase(HERON, engine, data_dir, address)
    with write_transaction(engine) as connection:
        vacuum.mark_pending(connection)
    assert erase(HERON, engine, data_dir, address).problem == ""
    with read_transaction(engine) as connection:
        assert not vacuum.is_pending(connection)
    with pytest.raises(InputFaults, match="unknown pseudonym"):
        erase(HERON, engine, data_dir, address)
    engine.dispose()


@pytest.mark.parametrize("name", ["heron", "HERON", "  Heron "])
def test_case_does_not_distinguish_persons(data_dir: DataDir, address: str, name: str) -> None:
    """Every spelling of the pseudonym is the same person."""
    engine = open_store(address)
    assert erase(name, engine, data_dir, address).sessions == 1
    engine.dispose()


def test_a_requester_can_be_erased(data_dir: DataDir, address: str) -> None:
    """A requester who had no seat can be erased; a word that is no name is unknown."""
    engine = open_store(address)
    report = erase("instructor", engine, data_dir, address)
    assert (report.sessions, len(report.redacted)) == (0, 2)
    assert report.texts > 1
    for word in ("", "quick", "Captain"):
        with pytest.raises(InputFaults):
            erase(word, engine, data_dir, address)
    engine.dispose()


def test_a_running_watch_is_refused(data_dir: DataDir, address: str) -> None:
    """While a watch has a spool open nothing is erased."""
    spool = SpoolWriter(data_dir.spool, "f" * 32)
    spool.write(0.0, [spool_records.SessionClosedRecord()])
    engine = open_store(address)
    with pytest.raises(InputFaults, match="a watch is running"):
        erase(HERON, engine, data_dir, address)
    engine.dispose()
    spool.close()
    assert any(
        scan_recording(recording_files, Redactor(HERON)).matching_parts
        for recording_files in list_recordings(data_dir.recordings)
    )


@pytest.fixture
def alone(pack: Pack, tmp_path: Path) -> DataDir:
    """Two sessions in a directory with its own store."""
    directory = DataDir(tmp_path / "alone")
    record_two_sessions(pack, directory, f"sqlite:///{directory.store}")
    return directory


def test_a_cut_recording_is_redacted(alone: DataDir) -> None:
    """A cut recording loses the name and everything that cannot be read, and is still cut."""
    recording_files = list_recordings(alone.recordings)[0]
    part = recording_files.parts[0]
    part.write_bytes(part.read_bytes()[: part.stat().st_size * 2 // 3])
    before = sum(1 for _ in open_recording(part).messages())
    redactor = Redactor(HERON)
    scan = scan_recording(recording_files, redactor)
    assert (scan.matching_parts, scan.truncated_parts) == ([part], [part])
    assert redact_recording(recording_files, scan, redactor, of_person=True) is RedactionResult.REDACTED
    after = scan_recording(recording_files, redactor)
    assert (after.matching_parts, after.truncated_parts) == ([], [part])
    assert sum(1 for _ in open_recording(part).messages()) == before
    assert list(alone.recordings.glob("*.copy")) == []


def test_a_damaged_recording_loses_unreadable_data(alone: DataDir) -> None:
    """Data of the person's session that cannot be read may contain the name: it is removed."""
    recording_files = list_recordings(alone.recordings)[0]
    part = recording_files.parts[0]
    data = bytearray(part.read_bytes())
    data[_chunks(part)[1] + 60] ^= 0xFF
    part.write_bytes(data)
    redactor = Redactor(HERON)
    before = sum(1 for _ in open_recording(part).messages())
    assert (
        redact_recording(recording_files, scan_recording(recording_files, redactor), redactor, of_person=True)
        is RedactionResult.REDACTED
    )
    assert len(_chunks(part)) == 1
    assert sum(1 for _ in open_recording(part).messages()) == before
    assert scan_recording(recording_files, redactor).matching_parts == []


def _chunks(part: Path) -> list[int]:
    """Find the start of each chunk."""
    with part.open("rb") as stream:
        found, at = list[int](), 0
        with suppress(EndOfFile):
            for record in StreamReader(stream, emit_chunks=True).records:
                found += [at] if isinstance(record, Chunk) else []
                at = stream.tell()
    return found


def test_a_recording_of_another_version_is_removed(alone: DataDir, monkeypatch: pytest.MonkeyPatch) -> None:
    """A recording of another format version that contains the name is removed."""
    monkeypatch.setattr("bridge.privacy.redact_recordings.FORMAT_VERSION", 2)
    address = f"sqlite:///{alone.store}"
    engine = open_store(address)
    report = erase(HERON, engine, alone, address)
    engine.dispose()
    assert len(report.removed) == 2
    assert list_recordings(alone.recordings) == []


def test_a_full_disk_changes_nothing(alone: DataDir, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the copy cannot be written, the recording is unchanged and the person still known."""
    part = list_recordings(alone.recordings)[0].parts[0]
    before = part.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("bridge.privacy.redact_recordings.os.fsync", full)
    address = f"sqlite:///{alone.store}"
    engine = open_store(address)
    with pytest.raises(InputFaults, match="No space"):
        erase(HERON, engine, alone, address)
    with read_transaction(engine) as connection:
        assert HERON in connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    engine.dispose()
    assert part.read_bytes() == before
    assert list(alone.recordings.glob("*.copy")) == []
