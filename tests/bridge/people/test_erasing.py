"""A person erased: nothing of the pseudonym is left, and all else is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sqlalchemy import select

from bridge.keep import Keep
from bridge.people import erasing
from bridge.people.erasing import erase
from bridge.people.names import Blot
from bridge.people.tapes import named_in, rewrite
from bridge.record.again import trip_of
from bridge.record.reader import open_recording
from bridge.record.shelf import recordings
from bridge.rejudge.judging import rejudge
from bridge.store import kept, schema
from bridge.store.opening import open_store, reading
from bridge.store.spool import Spool
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.people.kept import HERON, every_byte, two_sessions

_WORD = re.compile(rb"(?<!\w)heron(?!\w)", re.IGNORECASE)


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
    assert len(_WORD.findall(every_byte(keep))) > 10
    engine = open_store(address)
    erased = erase("Heron", engine, keep, address)
    engine.dispose()
    left = every_byte(keep)
    assert _WORD.findall(left) == []
    assert b"Herons'" in left
    assert b"Plover" in left
    assert len(erased.recordings) == 2


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


def test_erasing_again_finds_nobody(keep: Keep, address: str) -> None:
    """Whoever is erased is not known any more."""
    engine = open_store(address)
    erase(HERON, engine, keep, address)
    with pytest.raises(InputFaults, match="nobody of that pseudonym is known"):
        erase(HERON, engine, keep, address)
    engine.dispose()


@pytest.mark.parametrize("step", ["_recordings", "_overwrite", "_forget"])
def test_an_erase_that_was_cut_off_is_finished_by_the_next(
    keep: Keep, address: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wherever a run was cut off, the person is still known or wholly gone; another run finishes it."""
    engine = open_store(address)
    with monkeypatch.context() as broken:
        broken.setattr(erasing, step, _cut_off)
        with pytest.raises(KeyboardInterrupt):
            erase(HERON, engine, keep, address)
    if step != "_forget":
        erase(HERON, engine, keep, address)
    with reading(engine) as connection:
        assert HERON not in connection.execute(select(schema.person.c.pseudonym)).scalars().all()
        assert not any(
            Blot(HERON).stands_in(text) for text in connection.execute(select(schema.remark.c.text)).scalars()
        )
    engine.dispose()
    assert not any(named_in(part, Blot(HERON)) for k in recordings(keep.recordings) for part in k.parts)


def _cut_off(*_: object) -> int:
    raise KeyboardInterrupt


def test_a_running_watch_is_refused(keep: Keep, address: str) -> None:
    """While a watch holds a spool nothing is erased."""
    held = Spool(keep.spool, "f" * 32)
    held.write(0.0, [kept.Closed()])
    engine = open_store(address)
    with pytest.raises(InputFaults, match="a watch is running"):
        erase(HERON, engine, keep, address)
    engine.dispose()
    held.close()
    assert any(named_in(part, Blot(HERON)) for k in recordings(keep.recordings) for part in k.parts)


def test_a_cut_recording_is_rewritten_as_far_as_it_goes(keep: Keep) -> None:
    """A recording that breaks off loses the name in what can be read of it."""
    part = recordings(keep.recordings)[0].parts[0]
    part.write_bytes(part.read_bytes()[: part.stat().st_size * 2 // 3])
    blot = Blot(HERON)
    assert named_in(part, blot)
    rewrite(part, blot)
    assert not named_in(part, blot)
    assert open_recording(part).head.session
    assert list(keep.recordings.glob("*.copy")) == []


def test_a_full_disk_leaves_the_recording_as_it_was(keep: Keep, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the copy cannot be written, the recording stands as before."""
    part = recordings(keep.recordings)[0].parts[0]
    before = part.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("bridge.people.tapes.os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        rewrite(part, Blot(HERON))
    assert part.read_bytes() == before
    assert list(keep.recordings.glob("*.copy")) == []
