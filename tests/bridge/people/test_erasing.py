"""A person erased: nothing of the pseudonym is left, and all else is."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from mcap.exceptions import EndOfFile
from mcap.records import Chunk
from mcap.stream_reader import StreamReader
from sqlalchemy import select

from bridge.keep import Keep
from bridge.people import erasing, forgetting
from bridge.people.erasing import erase
from bridge.people.names import Blot
from bridge.people.tapes import Done, clean, look_at
from bridge.record.again import trip_of
from bridge.record.reader import open_recording
from bridge.record.shelf import recordings
from bridge.rejudge.judging import rejudge
from bridge.store import kept, schema
from bridge.store.opening import open_store, reading, writing
from bridge.store.spool import Spool
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.people.kept import HERON, every_byte, every_word, two_sessions, word_in
from tests.postgres import Server


@pytest.fixture
def keep(pack: Pack, tmp_path: Path, address: str) -> Keep:
    """Two sessions, recorded and stored."""
    made = Keep(tmp_path / "keep")
    two_sessions(pack, made, address)
    return made


def test_nothing_of_the_pseudonym_is_left_in_any_byte(pack: Pack, tmp_path: Path) -> None:
    """After an erase no byte of the folder has it, in the database's file or unpacked recordings; other words stay."""
    keep = Keep(tmp_path / "keep")
    address = f"sqlite:///{keep.store}"
    two_sessions(pack, keep, address)
    assert len(every_word(HERON, keep)) > 10
    engine = open_store(address)
    erased = erase("Heron", engine, keep, address)
    engine.dispose()
    assert every_word(HERON, keep) == []
    left = every_byte(keep)
    assert b"Herons'" in left
    assert b"Plover" in left
    assert len(erased.rewritten) == 2


def test_the_server_holds_nothing_of_the_pseudonym(pack: Pack, tmp_path: Path, postgres: Server) -> None:
    """After an erase no file of a PostgreSQL server has it but its log of changes, which nobody can reach into."""
    postgres.sql("CREATE DATABASE erased TEMPLATE template")
    address = postgres.url("erased")
    keep = Keep(tmp_path / "keep")
    two_sessions(pack, keep, address)
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
    return sum(word_in(HERON, path.read_bytes()) != [] for path in files)


def test_what_was_found_stays_without_the_person(keep: Keep, address: str) -> None:
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
    with reading(engine) as connection:
        joined = schema.finding.outerjoin(schema.person, schema.finding.c.person == schema.person.c.id)
        columns = schema.finding.c.session, schema.finding.c.number, schema.person.c.pseudonym
        rows = connection.execute(select(*columns).select_from(joined).order_by(*columns[:2])).all()
    engine.dispose()
    return [(row[0], row[1], row[2]) for row in rows]


def test_a_rewritten_recording_still_plays_and_is_judged_the_same(
    keep: Keep, address: str, pack: Pack
) -> None:
    """After the name is gone a recording is whole, has every message, and is judged again to the byte."""
    before = {k.stem: sum(1 for _ in open_recording(k.parts[0]).rows()) for k in recordings(keep.recordings)}
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    engine.dispose()
    for each in recordings(keep.recordings):
        recording = open_recording(each.parts[0])
        assert trip_of(recording.head).title == "Lindmere 417"
        judged = rejudge(recording, pack)
        assert (judged.same, recording.fault) == (True, None)
        assert sum(1 for _ in recording.rows()) == before[each.stem]


@pytest.mark.parametrize(
    "name",
    ["captain", "Captain", "First officer", "push_approved", "flow", "flow.before.documents", "lights.beacon", "off", "Session",
     "1", "excused", "Al", "x", 'O"Hara', "a\\b", "Zoë", "Oystercatcher of the northern shore", "Captain: x", "instructor"],
)  # fmt: skip
def test_whatever_somebody_is_called_recordings_judge_the_same(name: str, pack: Pack, tmp_path: Path) -> None:
    """Names that are ids or words of the pack, longer or shorter than what takes their place, spoil no recording."""
    keep = Keep(tmp_path / "keep")
    address = f"sqlite:///{keep.store}"
    two_sessions(pack, keep, address, who=name)
    engine = open_store(address)
    erased = erase(name, engine, keep, address)
    with reading(engine) as connection:
        known = connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    engine.dispose()
    assert (erased.sessions, len(erased.rewritten), erased.removed) == (1, 2, [])
    assert known == ["Plover", "Teal"]
    for each in recordings(keep.recordings):
        assert look_at(each, Blot(name)).named == []
        assert rejudge(open_recording(each.parts[0]), pack).same


def test_all_parts_of_a_recording_lose_the_name(pack: Pack, tmp_path: Path) -> None:
    """Later parts begin with what was asked before; the name goes there too, and each part is judged from there."""
    keep = Keep(tmp_path / "keep")
    address = f"sqlite:///{keep.store}"
    two_sessions(pack, keep, address, part=5_000)
    assert all(len(each.parts) > 2 for each in recordings(keep.recordings))
    assert all(len(look_at(each, Blot(HERON)).named) > 1 for each in recordings(keep.recordings))
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    engine.dispose()
    assert every_word(HERON, keep) == []
    for each in recordings(keep.recordings):
        recording = open_recording(each.parts[0])
        assert rejudge(recording, pack).same
        assert recording.fault is None
        assert open_recording(each.parts[-1]).head.part == len(each.parts)


def test_erasing_again_finds_nobody(keep: Keep, address: str) -> None:
    """Whoever is erased is not known any more."""
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    with pytest.raises(InputFaults, match="nobody of that pseudonym is known"):
        erase(HERON, engine, keep, address)
    engine.dispose()


@pytest.mark.parametrize("step", ["_look", "_clean", "_store", "_overwrite"])
def test_an_erase_that_was_cut_off_is_finished_by_the_next(
    keep: Keep, address: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever a run was cut off, the person is still known or wholly gone; another run finishes it."""
    engine = open_store(address)
    with monkeypatch.context() as broken:
        broken.setattr(erasing, step, _cut_off)
        with pytest.raises(CutOff):
            erase(HERON, engine, keep, address)
    erase(HERON, engine, keep, address)
    with reading(engine) as connection:
        assert HERON not in connection.execute(select(schema.person.c.pseudonym)).scalars().all()
        assert not any(
            Blot(HERON).stands_in(text) for text in connection.execute(select(schema.remark.c.text)).scalars()
        )
    engine.dispose()
    assert not any(look_at(kept, Blot(HERON)).named for kept in recordings(keep.recordings))


class CutOff(Exception):  # noqa: N818 - somebody pulled the plug; that is what happened
    """The run ends here."""


def _cut_off(*_: object) -> int:
    raise CutOff


def test_what_only_the_database_still_holds_is_forgotten_by_the_next_run(keep: Keep, address: str) -> None:
    """A run that was cut off after all was erased, but before the space was given up, is finished too."""
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    with writing(engine) as connection:
        forgetting.mark(connection)
    assert erase(HERON, engine, keep, address).trouble == ""
    with reading(engine) as connection:
        assert not forgetting.marked(connection)
    with pytest.raises(InputFaults, match="nobody of that pseudonym"):
        erase(HERON, engine, keep, address)
    engine.dispose()


@pytest.mark.parametrize("name", ["heron", "HERON", "  Heron "])
def test_large_and_small_letters_are_one_person(keep: Keep, address: str, name: str) -> None:
    """However the pseudonym is written, it is the same person."""
    engine = open_store(address)
    assert erase(name, engine, keep, address).sessions == 1
    engine.dispose()


def test_who_only_asked_can_be_erased(keep: Keep, address: str) -> None:
    """Somebody who sat nowhere, but is named as who asked something, is known; a word that is nobody's name is not."""
    engine = open_store(address)
    erased = erase("instructor", engine, keep, address)
    assert (erased.sessions, len(erased.rewritten)) == (0, 2)
    assert erased.texts > 1
    for word in ("", "quick", "Captain"):
        with pytest.raises(InputFaults):
            erase(word, engine, keep, address)
    engine.dispose()


def test_a_running_watch_is_refused(keep: Keep, address: str) -> None:
    """While a watch holds a spool nothing is erased."""
    held = Spool(keep.spool, "f" * 32)
    held.write(0.0, [kept.Closed()])
    engine = open_store(address)
    with pytest.raises(InputFaults, match="a watch is running"):
        erase(HERON, engine, keep, address)
    engine.dispose()
    held.close()
    assert any(look_at(kept, Blot(HERON)).named for kept in recordings(keep.recordings))


@pytest.fixture
def alone(pack: Pack, tmp_path: Path) -> Keep:
    """Two sessions in a folder with its own store."""
    made = Keep(tmp_path / "alone")
    two_sessions(pack, made, f"sqlite:///{made.store}")
    return made


def test_a_cut_recording_is_rewritten_as_far_as_it_goes(alone: Keep) -> None:
    """A recording that breaks off loses the name and what cannot be read, and breaks off still."""
    kept = recordings(alone.recordings)[0]
    part = kept.parts[0]
    part.write_bytes(part.read_bytes()[: part.stat().st_size * 2 // 3])
    before = sum(1 for _ in open_recording(part).rows())
    blot = Blot(HERON)
    look = look_at(kept, blot)
    assert (look.named, look.cut) == ([part], [part])
    assert clean(kept, look, blot, concerned=True) is Done.REWRITTEN
    assert look_at(kept, blot).named == []
    recording = open_recording(part)
    assert sum(1 for _ in recording.rows()) == before
    assert recording.fault is not None
    assert list(alone.recordings.glob("*.copy")) == []


def test_a_damaged_recording_loses_what_is_behind_the_damage(alone: Keep) -> None:
    """What cannot be read of a session of theirs may hold the name: it goes."""
    kept = recordings(alone.recordings)[0]
    part = kept.parts[0]
    data = bytearray(part.read_bytes())
    data[_chunks(part)[1] + 60] ^= 0xFF
    part.write_bytes(data)
    blot = Blot(HERON)
    before = sum(1 for _ in open_recording(part).rows())
    assert clean(kept, look_at(kept, blot), blot, concerned=True) is Done.REWRITTEN
    assert len(_chunks(part)) == 1
    assert sum(1 for _ in open_recording(part).rows()) == before
    assert look_at(kept, blot).named == []


def _chunks(part: Path) -> list[int]:
    """Where its chunks begin."""
    with part.open("rb") as stream:
        found, at = list[int](), 0
        with suppress(EndOfFile):
            for record in StreamReader(stream, emit_chunks=True).records:
                found += [at] if isinstance(record, Chunk) else []
                at = stream.tell()
    return found


def test_a_recording_of_another_form_is_removed(alone: Keep, monkeypatch: pytest.MonkeyPatch) -> None:
    """What this program cannot rewrite, and the name stands in, is removed."""
    monkeypatch.setattr("bridge.people.tapes.FORM", 2)
    address = f"sqlite:///{alone.store}"
    engine = open_store(address)
    erased = erase(HERON, engine, alone, address)
    engine.dispose()
    assert len(erased.removed) == 2
    assert recordings(alone.recordings) == []


def test_a_full_disk_leaves_the_recording_and_the_person(
    alone: Keep, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the copy cannot be written, the recording stands as before, and the person is still known."""
    part = recordings(alone.recordings)[0].parts[0]
    before = part.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("bridge.people.tapes.os.fsync", full)
    address = f"sqlite:///{alone.store}"
    engine = open_store(address)
    with pytest.raises(InputFaults, match="No space"):
        erase(HERON, engine, alone, address)
    with reading(engine) as connection:
        assert HERON in connection.execute(select(schema.person.c.pseudonym)).scalars().all()
    engine.dispose()
    assert part.read_bytes() == before
    assert list(alone.recordings.glob("*.copy")) == []
