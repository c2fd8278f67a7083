"""A person erased: nothing of the pseudonym is left, and all else is."""

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
from bridge.recording.replay_judge import trip_of_head
from bridge.recording.retention import list_recordings
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
def keep(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions, recorded and stored."""
    made = DataDir(tmp_path / "keep")
    record_two_sessions(pack, made, address)
    return made


def test_nothing_of_the_pseudonym_is_left_in_any_byte(pack: Pack, tmp_path: Path) -> None:
    """After an erase no byte of the folder has it, in the database's file or unpacked recordings; other words stay."""
    keep = DataDir(tmp_path / "keep")
    address = f"sqlite:///{keep.store}"
    record_two_sessions(pack, keep, address)
    assert len(find_name(HERON, keep)) > 10
    engine = open_store(address)
    erased = erase("Heron", engine, keep, address)
    engine.dispose()
    assert find_name(HERON, keep) == []
    left = every_byte(keep)
    assert b"Herons'" in left
    assert b"Plover" in left
    assert len(erased.redacted) == 2


def test_the_server_holds_nothing_of_the_pseudonym(pack: Pack, tmp_path: Path, postgres: Server) -> None:
    """After an erase no file of a PostgreSQL server has it but its log of changes, which nobody can reach into."""
    postgres.sql("CREATE DATABASE erased TEMPLATE template")
    address = postgres.url("erased")
    keep = DataDir(tmp_path / "keep")
    record_two_sessions(pack, keep, address)
    postgres.sql("ANALYZE", "erased")
    postgres.sql("CHECKPOINT")
    assert _on_the_server(postgres) > 0
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    engine.dispose()
    postgres.sql("CHECKPOINT")
    left = _on_the_server(postgres)
    postgres.sql("DROP DATABASE erased WITH (FORCE)")
    assert left == 0


def _on_the_server(server: Server) -> int:
    """In how many of its tables' files the pseudonym stands."""
    files = [path for path in (server.home / "data" / "base").rglob("*") if path.is_file()]
    return sum(find_word(HERON, path.read_bytes()) != [] for path in files)


def test_what_was_found_stays_without_the_person(keep: DataDir, address: str) -> None:
    """Findings and seats are as many as before, those of the person without one; others keep theirs."""
    engine = open_store(address)
    before = _findings(address)
    erased = erase(HERON, engine, keep, address)
    engine.dispose()
    after = _findings(address)
    assert [row[:2] for row in after] == [row[:2] for row in before]
    assert {row[2] for row in before} == {"Heron", "Plover"}
    assert {row[2] for row in after} == {None, "Plover"}
    assert (erased.sessions, erased.findings) == (1, sum(row[2] == "Heron" for row in before))


def _findings(address: str) -> list[tuple[str, int, str | None]]:
    engine = open_store(address)
    with read_transaction(engine) as connection:
        joined = schema.finding.outerjoin(schema.person, schema.finding.c.person == schema.person.c.id)
        columns = schema.finding.c.session, schema.finding.c.number, schema.person.c.pseudonym
        rows = connection.execute(select(*columns).select_from(joined).order_by(*columns[:2])).all()
    engine.dispose()
    return [(row[0], row[1], row[2]) for row in rows]


def test_a_rewritten_recording_still_plays_and_is_judged_the_same(
    keep: DataDir, address: str, pack: Pack
) -> None:
    """After the name is gone a recording is whole, has every message, and is judged again to the byte."""
    before = {
        k.stem: sum(1 for _ in open_recording(k.parts[0]).messages())
        for k in list_recordings(keep.recordings)
    }
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    engine.dispose()
    for each in list_recordings(keep.recordings):
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
def test_whatever_somebody_is_called_recordings_judge_the_same(name: str, pack: Pack, tmp_path: Path) -> None:
    """Names that are ids or words of the pack, longer or shorter than what takes their place, spoil no recording."""
    keep = DataDir(tmp_path / "keep")
    address = f"sqlite:///{keep.store}"
    record_two_sessions(pack, keep, address, who=name)
    engine = open_store(address)
    erased = erase(name, engine, keep, address)
    with read_transaction(engine) as connection:
        known = connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    engine.dispose()
    assert (erased.sessions, len(erased.redacted), erased.removed) == (1, 2, [])
    assert known == ["Plover", "Teal"]
    for each in list_recordings(keep.recordings):
        assert scan_recording(each, Redactor(name)).matching_parts == []
        assert rejudge(open_recording(each.parts[0]), pack).same


def test_all_parts_of_a_recording_lose_the_name(pack: Pack, tmp_path: Path) -> None:
    """Later parts begin with what was asked before; the name goes there too, and each part is judged from there."""
    keep = DataDir(tmp_path / "keep")
    address = f"sqlite:///{keep.store}"
    record_two_sessions(pack, keep, address, part=5_000)
    assert all(len(each.parts) > 2 for each in list_recordings(keep.recordings))
    assert all(
        len(scan_recording(each, Redactor(HERON)).matching_parts) > 1
        for each in list_recordings(keep.recordings)
    )
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    engine.dispose()
    assert find_name(HERON, keep) == []
    for each in list_recordings(keep.recordings):
        recording = open_recording(each.parts[0])
        assert rejudge(recording, pack).same
        assert recording.fault is None
        assert open_recording(each.parts[-1]).head.part == len(each.parts)


def test_erasing_again_finds_nobody(keep: DataDir, address: str) -> None:
    """Whoever is erased is not known any more."""
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    with pytest.raises(InputFaults, match="nobody of that pseudonym is known"):
        erase(HERON, engine, keep, address)
    engine.dispose()


@pytest.mark.parametrize(
    "step", ["_scan_recordings", "_redact_files", "_erase_from_tables", "_redact_column"]
)
def test_an_erase_that_was_cut_off_is_finished_by_the_next(
    keep: DataDir, address: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever a run was cut off, the person is still known or wholly gone; another run finishes it."""
    engine = open_store(address)
    with monkeypatch.context() as broken:
        broken.setattr(erasure, step, _cut_off)
        with pytest.raises(CutOff):
            erase(HERON, engine, keep, address)
    erase(HERON, engine, keep, address)
    with read_transaction(engine) as connection:
        assert HERON not in connection.execute(select(schema.person.c.pseudonym)).scalars().all()
        assert not any(
            Redactor(HERON).occurs_in(text)
            for text in connection.execute(select(schema.remark.c.text)).scalars()
        )
    engine.dispose()
    assert not any(
        scan_recording(spool_records, Redactor(HERON)).matching_parts
        for spool_records in list_recordings(keep.recordings)
    )


class CutOff(Exception):  # noqa: N818 - somebody pulled the plug; that is what happened
    """The run ends here."""


def _cut_off(*_: object) -> int:
    raise CutOff


def test_what_only_the_database_still_holds_is_forgotten_by_the_next_run(keep: DataDir, address: str) -> None:
    """A run that was cut off after all was erased, but before the space was given up, is finished too."""
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    with write_transaction(engine) as connection:
        vacuum.mark_pending(connection)
    assert erase(HERON, engine, keep, address).trouble == ""
    with read_transaction(engine) as connection:
        assert not vacuum.is_pending(connection)
    with pytest.raises(InputFaults, match="nobody of that pseudonym"):
        erase(HERON, engine, keep, address)
    engine.dispose()


@pytest.mark.parametrize("name", ["heron", "HERON", "  Heron "])
def test_large_and_small_letters_are_one_person(keep: DataDir, address: str, name: str) -> None:
    """However the pseudonym is written, it is the same person."""
    engine = open_store(address)
    assert erase(name, engine, keep, address).sessions == 1
    engine.dispose()


def test_who_only_asked_can_be_erased(keep: DataDir, address: str) -> None:
    """Somebody who sat nowhere, but is named as who asked something, is known; a word that is nobody's name is not."""
    engine = open_store(address)
    erased = erase("instructor", engine, keep, address)
    assert (erased.sessions, len(erased.redacted)) == (0, 2)
    assert erased.texts > 1
    for word in ("", "quick", "Captain"):
        with pytest.raises(InputFaults):
            erase(word, engine, keep, address)
    engine.dispose()


def test_a_running_watch_is_refused(keep: DataDir, address: str) -> None:
    """While a watch holds a spool nothing is erased."""
    held = SpoolWriter(keep.spool, "f" * 32)
    held.write(0.0, [spool_records.SessionClosedRecord()])
    engine = open_store(address)
    with pytest.raises(InputFaults, match="a watch is running"):
        erase(HERON, engine, keep, address)
    engine.dispose()
    held.close()
    assert any(
        scan_recording(spool_records, Redactor(HERON)).matching_parts
        for spool_records in list_recordings(keep.recordings)
    )


@pytest.fixture
def alone(pack: Pack, tmp_path: Path) -> DataDir:
    """Two sessions in a folder with its own store."""
    made = DataDir(tmp_path / "alone")
    record_two_sessions(pack, made, f"sqlite:///{made.store}")
    return made


def test_a_cut_recording_is_rewritten_as_far_as_it_goes(alone: DataDir) -> None:
    """A recording that breaks off loses the name and what cannot be read, and breaks off still."""
    spool_records = list_recordings(alone.recordings)[0]
    part = spool_records.parts[0]
    part.write_bytes(part.read_bytes()[: part.stat().st_size * 2 // 3])
    before = sum(1 for _ in open_recording(part).messages())
    blot = Redactor(HERON)
    look = scan_recording(spool_records, blot)
    assert (look.matching_parts, look.truncated_parts) == ([part], [part])
    assert redact_recording(spool_records, look, blot, of_person=True) is RedactionResult.REDACTED
    assert scan_recording(spool_records, blot).matching_parts == []
    recording = open_recording(part)
    assert sum(1 for _ in recording.messages()) == before
    assert recording.fault is not None
    assert list(alone.recordings.glob("*.copy")) == []


def test_a_damaged_recording_loses_what_is_behind_the_damage(alone: DataDir) -> None:
    """What cannot be read of a session of theirs may hold the name: it goes."""
    spool_records = list_recordings(alone.recordings)[0]
    part = spool_records.parts[0]
    data = bytearray(part.read_bytes())
    data[_chunks(part)[1] + 60] ^= 0xFF
    part.write_bytes(data)
    blot = Redactor(HERON)
    before = sum(1 for _ in open_recording(part).messages())
    assert (
        redact_recording(spool_records, scan_recording(spool_records, blot), blot, of_person=True)
        is RedactionResult.REDACTED
    )
    assert len(_chunks(part)) == 1
    assert sum(1 for _ in open_recording(part).messages()) == before
    assert scan_recording(spool_records, blot).matching_parts == []


def _chunks(part: Path) -> list[int]:
    """Where its chunks begin."""
    with part.open("rb") as stream:
        found, at = list[int](), 0
        with suppress(EndOfFile):
            for record in StreamReader(stream, emit_chunks=True).records:
                found += [at] if isinstance(record, Chunk) else []
                at = stream.tell()
    return found


def test_a_recording_of_another_form_is_removed(alone: DataDir, monkeypatch: pytest.MonkeyPatch) -> None:
    """What this program cannot rewrite, and the name stands in, is removed."""
    monkeypatch.setattr("bridge.privacy.redact_recordings.FORMAT_VERSION", 2)
    address = f"sqlite:///{alone.store}"
    engine = open_store(address)
    erased = erase(HERON, engine, alone, address)
    engine.dispose()
    assert len(erased.removed) == 2
    assert list_recordings(alone.recordings) == []


def test_a_full_disk_leaves_the_recording_and_the_person(
    alone: DataDir, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the copy cannot be written, the recording stands as before, and the person is still known."""
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
