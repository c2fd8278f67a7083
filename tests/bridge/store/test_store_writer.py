"""From the spool into the tables, on both databases: everything once, whatever happens on the way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, event, text

from bridge.store import schema
from bridge.store.database import StoreError, open_store, write_transaction
from bridge.store.row_writer import apply_records
from bridge.store.spool_records import PhaseRecord
from bridge.store.store_writer import MAX_WAIT_S, StoreWriter
from rules.packs.model import Pack
from tests.bridge.store.store_harness import BEGAN_UTC, StoreHarness
from tests.postgres import Server


def test_a_session_is_in_the_tables(desk: StoreHarness) -> None:
    """Every finding is in the store as it was told last, with its class; and the session with its papers and seats."""
    desk.fly_push_back()
    desk.close()
    (session,) = desk.rows(schema.session)
    assert (session.id, session.name, session.pack) == (desk.device.session.uuid, "Session 1", "small")
    assert (session.began_utc, session.ending, session.ended_utc) == (BEGAN_UTC, "ended", BEGAN_UTC + 7)
    assert session.seats == {"captain": "Captain", "first_officer": "First officer"}
    found, rows = desk.findings(), desk.rows(schema.finding)
    assert len(found) >= 2
    assert [row.number for row in rows] == sorted(found)
    for row in rows:
        told = found[row.number]
        assert (row.kind, row.item, row.sentence) == (told.kind, told.item, told.sentence)
        assert (row.sim_s, row.lead_s, row.carried) == (told.sim_s, told.lead_s, told.carried)
        assert (row.error_class, row.person) == ("procedural error", None)
        assert BEGAN_UTC <= row.utc <= BEGAN_UTC + 7


def test_what_else_is_kept(desk: StoreHarness) -> None:
    """Phases, gates, calls, notices, remarks and what happened to the session are kept, in their order."""
    desk.fly_push_back()
    desk.request("remark", "", "slow hands")
    desk.close()
    assert [(p.phase, p.title, p.code) for p in desk.rows(schema.phase)] == [
        ("stand", "At the stand", "STD"),
        ("pushing", "Push back", "PBT"),
    ]
    (gate,) = desk.rows(schema.gate_passage)
    assert (gate.gate, gate.cue_s, gate.entered_s, gate.ready_s) == ("push", 2.0, 6.0, None)
    assert (gate.open_at_cue, gate.carried, gate.needs, gate.cue_utc) == (3, 3, 3, BEGAN_UTC + 2)
    assert [(c.call, c.title, c.undone_s) for c in desk.rows(schema.call)] == [
        ("push_approved", "push approved", None)
    ]
    assert {n.finding for n in desk.rows(schema.notice)} <= {0, *desk.findings()}
    assert [(r.change, r.text) for r in desk.rows(schema.remark)] == [("", "slow hands")]
    numbers = [n.number for n in desk.rows(schema.notice)]
    assert numbers == sorted(numbers)


def test_who_sits_where(desk: StoreHarness) -> None:
    """Who is named first has sat there from the beginning; who comes later has what is found from then on."""
    desk.fly_push_back()
    desk.request("assign_seat", "captain", "Heron")
    desk.request("assign_seat", "captain", "Plover")
    desk.request("assign_seat", "captain", "")
    desk.close()
    people = {person.id: person.pseudonym for person in desk.rows(schema.person)}
    assert sorted(people.values()) == ["Heron", "Plover"]
    assert [(s.seat, people.get(s.person)) for s in desk.rows(schema.seating)] == [
        ("captain", "Heron"),
        ("captain", "Plover"),
        ("captain", None),
    ]
    sat = {row.seat: people.get(row.person) for row in desk.rows(schema.finding)}
    assert sat == {"captain": "Heron", "first_officer": None}


def test_a_finding_belongs_to_who_sits_there_when_it_opens(desk: StoreHarness) -> None:
    """After a change of seats, what is found belongs to the one who sits there then."""
    desk.request("assign_seat", "captain", "Heron")
    desk.request("assign_seat", "captain", "Plover")
    desk.fly_push_back()
    desk.close()
    people = {person.id: person.pseudonym for person in desk.rows(schema.person)}
    assert {people[r.person] for r in desk.rows(schema.finding) if r.seat == "captain"} == {"Plover"}


def test_a_call_that_is_taken_back_is_marked(desk: StoreHarness) -> None:
    """A call that was taken back stays on the record, with when."""
    desk.send(0.0)
    desk.advance(1.0)
    desk.request("call", "push_approved")
    desk.request("undo_call", "push_approved")
    desk.close()
    (call,) = desk.rows(schema.call)
    assert call.undone_s == call.sim_s == 0.0


def test_names_and_courses(desk: StoreHarness) -> None:
    """What a session is called and belongs to may change; the next one belongs to the same course."""
    desk.request("rename_session", "Morning")
    desk.request("set_course", "Course 12")
    desk.request("start_session", "Noon")
    desk.close()
    sessions = {row.name: row for row in desk.rows(schema.session)}
    assert {name: (row.course, row.ending) for name, row in sessions.items()} == {
        "Morning": ("Course 12", "ended"),
        "Noon": ("Course 12", "ended"),
    }


def test_draining_as_it_goes(desk: StoreHarness) -> None:
    """What is found while the session runs is in the store at the next look; the spool stays until it ends."""
    desk.fly_push_back()
    desk.writer.poll()
    (session,) = desk.rows(schema.session)
    assert (session.ending, session.spool_number) == ("", len(desk.spool_records()))
    assert len(desk.rows(schema.finding)) == len(desk.findings())
    desk.request("remark", "", "more")
    desk.writer.poll()
    assert [r.text for r in desk.rows(schema.remark)] == ["more"]
    desk.close()
    assert list(desk.folder.glob("*.spool")) == []


def test_every_line_counts_once(desk: StoreHarness) -> None:
    """Lines that are put in a second time change nothing, from wherever the second time begins."""
    desk.fly_push_back()
    desk.writer.poll()
    engine = open_store(desk._address)
    before = {table.name: desk.rows(table) for table in schema.metadata.sorted_tables}
    for start in range(len(desk.spool_records())):
        with write_transaction(engine) as connection:
            assert apply_records(connection, desk.device.session.uuid, desk.spool_records()[start:]) == 0
    assert {table.name: desk.rows(table) for table in schema.metadata.sorted_tables} == before
    engine.dispose()


def test_a_commit_that_nobody_heard_of_is_not_done_twice(
    desk: StoreHarness, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the database had committed and the answer was lost, the next try adds nothing."""
    desk.fly_push_back()
    lost = iter([True, False])

    @contextmanager
    def loses(engine: Engine) -> Iterator[Connection]:
        with write_transaction(engine) as connection:
            yield connection
        if next(lost, False):
            raise StoreError("the answer was lost")

    monkeypatch.setattr("bridge.store.store_writer.write_transaction", loses)
    desk.writer.poll()
    assert "the answer was lost" in desk.writer.trouble
    desk.advance(2.0)
    desk.writer.poll()
    assert desk.writer.trouble == ""
    assert len(desk.rows(schema.finding)) == len(desk.findings())
    assert len(desk.rows(schema.phase)) == 2


def test_a_spool_that_nobody_writes_is_broken_off(desk: StoreHarness) -> None:
    """A session whose program was killed is in the store, marked as broken off, and ended at its last line."""
    desk.fly_push_back()
    assert desk.session_store._spooler is not None
    desk.session_store._spooler.spool._lock.release()  # as the system does when the process ends
    desk.writer.poll()
    (session,) = desk.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("broken off", session.last_utc)
    assert list(desk.folder.glob("*.spool")) == []


def test_a_refused_line_does_not_stand_in_the_way(desk: StoreHarness) -> None:
    """A line that the database refuses is put aside with the reason; the others are in the store."""
    desk.fly_push_back()
    first = next(line for line in desk.spool_records() if isinstance(line.body, PhaseRecord))
    desk.writer.poll()
    engine = open_store(desk._address)
    with write_transaction(engine) as connection:  # a row is in its place already
        connection.execute(text("UPDATE session SET spool_number = :number"), {"number": first.number - 1})
    desk.writer._files.clear()
    desk.writer.poll()
    engine.dispose()
    assert desk.writer.refused_count >= 1
    assert "put aside" in desk.writer.status_text
    assert len(desk.rows(schema.phase)) == 2
    assert (desk.folder / f"{desk.device.session.uuid}.refused").stat().st_size > 0


def test_characters_that_a_database_has_no_place_for(desk: StoreHarness) -> None:
    """A NUL, which PostgreSQL cannot hold, is replaced; the line is kept."""
    desk.device.session.add_remark("a\0b", "")
    desk.close()
    assert [r.text for r in desk.rows(schema.remark)] == ["a\N{REPLACEMENT CHARACTER}b"]


def test_the_wall_clock_set_back(desk: StoreHarness) -> None:
    """An hour back in the middle of a session: everything is kept, in the order in which it was told."""
    desk.send(0.0)
    desk.request("remark", "", "first")
    desk.wall.now_s -= 3600.0
    desk.request("remark", "", "second")
    desk.fly_push_back(1.0)
    desk.close()
    assert [r.text for r in desk.rows(schema.remark)] == ["first", "second"]
    assert len(desk.rows(schema.finding)) == len(desk.findings())
    (session,) = desk.rows(schema.session)
    assert session.ending == "ended"


def test_the_simulator_s_clock_jumps_back(desk: StoreHarness) -> None:
    """After a reposition the same gates are passed again, and each passage is kept."""
    desk.fly_push_back(100.0)
    desk.fly_push_back(10.0)
    desk.close()
    assert [(g.number, g.cue_s) for g in desk.rows(schema.gate_passage)] == [(1, 102.0), (2, 12.0)]
    assert len(desk.rows(schema.finding)) == len(desk.findings())


# -- the database is down, locked or full ------------------------------------------------------------


def _down(_: str) -> Engine:
    raise StoreError("nobody answers")


def test_a_database_that_is_down_for_minutes(pack: Pack, tmp_path: Path, address: str) -> None:
    """While it is down everything waits on the disk, the waits grow to a minute, and it is said; then all goes in."""
    down = True
    desk = StoreHarness(
        pack, tmp_path / "spool", address, lambda url: _down(url) if down else open_store(url)
    )
    tries = 0
    for _ in range(600):  # ten minutes
        before = desk.writer._due_s
        desk.writer.poll()
        tries += desk.writer._due_s != before
        desk.advance(1.0)
    assert 12 <= tries <= 18
    assert desk.writer._wait_s == MAX_WAIT_S
    desk.fly_push_back()
    assert [c.change for c in desk.session_events()] == ["not stored now"]
    assert "waits on the disk: nobody answers" in desk.session_events()[0].text
    assert "trying again in" in desk.writer.status_text
    down = False
    desk.advance(MAX_WAIT_S)
    desk.writer.poll()
    desk.advance(1.0)
    assert [c.change for c in desk.session_events()] == ["not stored now", "stored again"]
    desk.writer.poll()
    assert len(desk.rows(schema.finding)) == len(desk.findings())
    desk.close()


def test_a_database_that_somebody_has_locked(desk: StoreHarness) -> None:
    """While another program holds what is to be written, it waits, and goes in afterwards."""
    desk.writer.poll()
    other = open_store(desk._address)
    desk.fly_push_back()
    _hurry(desk.writer)
    with write_transaction(other) as connection:
        connection.execute(text("UPDATE session SET name = 'Mine'"))
        desk.writer.poll()
        assert desk.writer.trouble
        assert len(desk.spool_records()) > 5
    desk.advance(2.0)
    desk.writer.poll()
    other.dispose()
    assert desk.writer.trouble == ""
    assert len(desk.rows(schema.finding)) == len(desk.findings())


def _hurry(drain: StoreWriter) -> None:
    """Let the database wait for a lock for a moment only."""
    engine = drain._engine_for_writing()
    if engine.dialect.name == "sqlite":
        event.listen(
            engine, "checkout", lambda connection, *_: connection.execute("PRAGMA busy_timeout = 20")
        )
    else:
        event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("SET lock_timeout = 20"))


def test_a_disk_that_is_full_for_the_database(pack: Pack, tmp_path: Path) -> None:
    """SQLite's own word that the disk is full is trouble that passes; nothing is lost."""
    desk = StoreHarness(pack, tmp_path / "spool", f"sqlite:///{tmp_path / 'store.sqlite'}")
    desk.writer.poll()
    pages = "PRAGMA max_page_count = {}"
    full = event.listens_for(desk.writer._engine_for_writing(), "checkout")
    limit = [1]
    full(lambda connection, *_: connection.execute(pages.format(limit[0])))
    desk.fly_push_back()
    for _ in range(300):
        desk.request("remark", "", "x" * 400)
    desk.writer.poll()
    assert "full" in desk.writer.trouble
    limit[0] = 10**6
    desk.advance(2.0)
    desk.writer.poll()
    assert desk.writer.trouble == ""
    assert len(desk.rows(schema.remark)) == 301  # with the note of the trouble
    assert len(desk.rows(schema.finding)) == len(desk.findings())
    desk.close()


def test_a_connection_that_is_cut(pack: Pack, tmp_path: Path, postgres: Server) -> None:
    """A server that ends our connection is tried again; nothing is lost, nothing is doubled."""
    postgres.sql("CREATE DATABASE cut TEMPLATE template")
    desk = StoreHarness(pack, tmp_path / "spool", postgres.url("cut"))
    desk.fly_push_back()
    desk.writer.poll()
    postgres.sql("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'cut'")
    desk.request("remark", "", "afterwards")
    desk.writer.poll()
    desk.advance(2.0)
    desk.writer.poll()
    assert [r.text for r in desk.rows(schema.remark) if not r.change] == ["afterwards"]
    assert len(desk.rows(schema.finding)) == len(desk.findings())
    desk.close()
