"""Tests of the way from the spool into the tables, on both databases: everything once, whatever fails."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, event, text

from bridge.session.change_text import change_text
from bridge.session.session_events import StoreReachable, StoreUnreachable
from bridge.store import schema
from bridge.store.database import StoreError, open_store, write_transaction
from bridge.store.row_writer import apply_records
from bridge.store.spool_records import PhaseRecord
from bridge.store.store_writer import MAX_WAIT_S, StoreWriter
from rules.judge.events import DataMissing
from rules.packs.model import Pack
from tests.bridge.store.store_harness import BEGAN_UTC, StoreHarness
from tests.postgres import Server


def test_a_session_is_in_the_tables(harness: StoreHarness) -> None:
    """Findings are stored in their latest state with their class; the session with its trip sheet and seats."""
    harness.fly_push_back()
    harness.close()
    (session,) = harness.rows(schema.session)
    assert (session.id, session.name, session.pack) == (harness.device.session.uuid, "Session 1", "small")
    assert (session.began_utc, session.ending, session.ended_utc) == (BEGAN_UTC, "ended", BEGAN_UTC + 7)
    assert session.seats == {"captain": "Captain", "first_officer": "First officer"}
    found, rows = harness.findings(), harness.rows(schema.finding)
    assert len(found) >= 2
    assert [row.number for row in rows] == sorted(found)
    for row in rows:
        published = found[row.number]
        assert (row.kind, row.item, row.sentence) == (published.kind, published.item, published.sentence)
        assert (row.sim_s, row.lead_s, row.carried) == (published.sim_s, published.lead_s, published.carried)
        assert (row.error_class, row.person) == ("procedural error", None)
        assert BEGAN_UTC <= row.utc <= BEGAN_UTC + 7


def test_other_tables(harness: StoreHarness) -> None:
    """Phases, gates, calls, notices, remarks and session changes are stored in order."""
    harness.fly_push_back()
    harness.request("remark", "", "slow hands")
    harness.close()
    assert [(p.phase, p.title, p.code) for p in harness.rows(schema.phase)] == [
        ("stand", "At the stand", "STD"),
        ("pushing", "Push back", "PBT"),
    ]
    (gate,) = harness.rows(schema.gate_passage)
    assert (gate.gate, gate.cue_s, gate.entered_s, gate.ready_s) == ("push", 2.0, 6.0, None)
    assert (gate.open_at_cue, gate.carried, gate.needs, gate.cue_utc) == (3, 3, 3, BEGAN_UTC + 2)
    assert [(c.call, c.title, c.undone_s) for c in harness.rows(schema.call)] == [
        ("push_approved", "push approved", None)
    ]
    assert {n.finding for n in harness.rows(schema.notice)} <= {0, *harness.findings()}
    assert [(r.change, r.text) for r in harness.rows(schema.remark)] == [("", "slow hands")]
    numbers = [n.number for n in harness.rows(schema.notice)]
    assert numbers == sorted(numbers)


def test_gaps_in_the_data(harness: StoreHarness) -> None:
    """A time for which data were missing is stored from its first missing record to the next one that came."""
    harness.lose_data(0.0, 10.0)
    harness.lose_data(20.0, 30.0)
    harness.close()
    gaps = [event for event in harness.events if isinstance(event, DataMissing)]
    rows = harness.rows(schema.data_gap)
    assert [(row.from_s, row.to_s) for row in rows] == [(gap.from_s, gap.sim_s) for gap in gaps]
    assert [(row.from_s, row.to_s, row.records) for row in rows] == [(1.0, 10.0, 9), (21.0, 30.0, 9)]
    assert [row.utc for row in rows] == [BEGAN_UTC + 10, BEGAN_UTC + 20]


def test_waivers(harness: StoreHarness) -> None:
    """A waiver is a row with item, gates, author, reason and both times; its undo completes the row of its own waiver."""
    harness.send(0.0)
    harness.request("waive", "flow.before.beacon", "lamp failed")
    harness.advance(5.0)
    harness.send(5.0)
    harness.request("undo_waiver", "flow.before.beacon", "lamp\0replaced")
    harness.advance(5.0)
    harness.send(10.0)
    harness.request("waive", "flow.before.beacon", "failed again")
    harness.request("waive", "flow.before.pressure", "no pump")
    harness.close()
    rows = harness.rows(schema.waiver)
    assert [(w.item, w.label, w.gates, w.by, w.reason, w.from_s, w.utc - BEGAN_UTC) for w in rows] == [
        ("flow.before.beacon", "Beacon", ["Push back"], "instructor", "lamp failed", 0.0, 0.0),
        ("flow.before.beacon", "Beacon", ["Push back"], "instructor", "failed again", 10.0, 10.0),
        ("flow.before.pressure", rows[2].label, ["Push back"], "instructor", "no pump", 10.0, 10.0),
    ]
    assert [(w.to_s, w.undone_by, w.undone_reason) for w in rows] == [
        (5.0, "instructor", "lamp replaced"),
        (None, "", ""),
        (None, "", ""),
    ]


def test_a_finding_that_a_waiver_closed(harness: StoreHarness) -> None:
    """A finding says that a waiver closed it; the one that opens after the waiver has a row of its own."""
    harness.fly_push_back()
    harness.request("waive", "flow.before.beacon", "lamp failed")
    harness.request("undo_waiver", "flow.before.beacon")
    harness.close()
    first, second = [row for row in harness.rows(schema.finding) if row.item == "flow.before.beacon"]
    assert (first.waived, second.waived, second.closed_s) == (True, False, None)
    assert first.closed_s is not None


def test_seats(harness: StoreHarness) -> None:
    """The first person of a seat has sat there from the start; a later one gets the findings from then on."""
    harness.fly_push_back()
    harness.request("assign_seat", "captain", "Heron")
    harness.request("assign_seat", "captain", "Plover")
    harness.request("assign_seat", "captain", "")
    harness.close()
    people = {person.id: person.pseudonym for person in harness.rows(schema.person)}
    assert sorted(people.values()) == ["Heron", "Plover"]
    assert [(s.seat, people.get(s.person)) for s in harness.rows(schema.seating)] == [
        ("captain", "Heron"),
        ("captain", "Plover"),
        ("captain", None),
    ]
    sat = {row.seat: people.get(row.person) for row in harness.rows(schema.finding)}
    assert sat == {"captain": "Heron", "first_officer": None}


def test_a_finding_belongs_to_the_person_in_the_seat(harness: StoreHarness) -> None:
    """A finding belongs to the person in the seat when it opens."""
    harness.request("assign_seat", "captain", "Heron")
    harness.request("assign_seat", "captain", "Plover")
    harness.fly_push_back()
    harness.close()
    people = {person.id: person.pseudonym for person in harness.rows(schema.person)}
    assert {people[r.person] for r in harness.rows(schema.finding) if r.seat == "captain"} == {"Plover"}


def test_an_undone_call(harness: StoreHarness) -> None:
    """A call that was undone stays, with the time of the undo."""
    harness.send(0.0)
    harness.advance(1.0)
    harness.request("call", "push_approved")
    harness.request("undo_call", "push_approved")
    harness.close()
    (call,) = harness.rows(schema.call)
    assert call.undone_s == call.sim_s == 0.0


def test_names_and_courses(harness: StoreHarness) -> None:
    """Name and course can change; the next session has the same course."""
    harness.request("rename_session", "Morning")
    harness.request("set_course", "Course 12")
    harness.request("start_session", "Noon")
    harness.close()
    sessions = {row.name: row for row in harness.rows(schema.session)}
    assert {name: (row.course, row.ending) for name, row in sessions.items()} == {
        "Morning": ("Course 12", "ended"),
        "Noon": ("Course 12", "ended"),
    }


def test_a_running_session_is_stored(harness: StoreHarness) -> None:
    """Findings of a running session are stored at the next poll; the spool stays until it ends."""
    harness.fly_push_back()
    harness.writer.poll()
    (session,) = harness.rows(schema.session)
    assert (session.ending, session.spool_number) == ("", len(harness.spool_records()))
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    harness.request("remark", "", "more")
    harness.writer.poll()
    assert [r.text for r in harness.rows(schema.remark)] == ["more"]
    harness.close()
    assert list(harness.folder.glob("*.spool")) == []


def test_records_are_applied_once(harness: StoreHarness) -> None:
    """Applying records again changes nothing, from wherever the repetition starts."""
    harness.fly_push_back()
    harness.lose_data(10.0, 20.0)
    harness.request("waive", "flow.before.beacon", "lamp failed")
    harness.request("undo_waiver", "flow.before.beacon")
    harness.request("waive", "flow.before.beacon", "lamp failed again")
    harness.writer.poll()
    engine = open_store(harness._address)
    before = {table.name: harness.rows(table) for table in schema.metadata.sorted_tables}
    assert (len(before["data_gap"]), [row.to_s for row in before["waiver"]]) == (1, [20.0, None])
    for start in range(len(harness.spool_records())):
        with write_transaction(engine) as connection:
            assert (
                apply_records(connection, harness.device.session.uuid, harness.spool_records()[start:]) == 0
            )
    assert {table.name: harness.rows(table) for table in schema.metadata.sorted_tables} == before
    engine.dispose()


def test_an_unconfirmed_commit_is_not_repeated(
    harness: StoreHarness, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a commit whose answer was lost, the next attempt adds nothing."""
    harness.fly_push_back()
    answers_lost = iter([True, False])

    @contextmanager
    def loses(engine: Engine) -> Iterator[Connection]:
        with write_transaction(engine) as connection:
            yield connection
        if next(answers_lost, False):
            raise StoreError("the answer was lost")

    monkeypatch.setattr("bridge.store.store_writer.write_transaction", loses)
    harness.writer.poll()
    assert "the answer was lost" in harness.writer.problem
    harness.advance(2.0)
    harness.writer.poll()
    assert harness.writer.problem == ""
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    assert len(harness.rows(schema.phase)) == 2


def test_a_spool_without_a_writer_is_broken_off(harness: StoreHarness) -> None:
    """The session of a killed program is stored as broken off, with its last record as its end."""
    harness.fly_push_back()
    assert harness.session_store._spooler is not None
    harness.session_store._spooler.spool._lock.release()  # as the system does when the process ends
    harness.writer.poll()
    (session,) = harness.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("broken off", session.last_utc)
    assert list(harness.folder.glob("*.spool")) == []


def test_a_rejected_record_does_not_block_others(harness: StoreHarness) -> None:
    """A rejected record goes to another file; the others are stored."""
    harness.fly_push_back()
    phase_record = next(record for record in harness.spool_records() if isinstance(record.body, PhaseRecord))
    harness.writer.poll()
    engine = open_store(harness._address)
    with write_transaction(engine) as connection:  # a row is in its place already
        connection.execute(
            text("UPDATE session SET spool_number = :number"), {"number": phase_record.number - 1}
        )
    harness.writer._files.clear()
    harness.writer.poll()
    engine.dispose()
    assert harness.writer.refused_count >= 1
    assert "were rejected" in harness.writer.status_text
    assert len(harness.rows(schema.phase)) == 2
    assert (harness.folder / f"{harness.device.session.uuid}.refused").stat().st_size > 0


def test_nul_characters_are_replaced(harness: StoreHarness) -> None:
    """A NUL, which PostgreSQL cannot store, is replaced."""
    harness.device.session.add_remark("a\0b", "")
    harness.close()
    assert [r.text for r in harness.rows(schema.remark)] == ["a\N{REPLACEMENT CHARACTER}b"]


def test_a_wall_clock_that_is_set_back(harness: StoreHarness) -> None:
    """With a wall clock that is set back an hour everything is stored in order."""
    harness.send(0.0)
    harness.request("remark", "", "first")
    harness.wall.now_s -= 3600.0
    harness.request("remark", "", "second")
    harness.fly_push_back(1.0)
    harness.close()
    assert [r.text for r in harness.rows(schema.remark)] == ["first", "second"]
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    (session,) = harness.rows(schema.session)
    assert session.ending == "ended"


def test_a_clock_reset_of_the_simulator(harness: StoreHarness) -> None:
    """After a clock reset the same gates are passed again, and each passage is stored."""
    harness.fly_push_back(100.0)
    harness.fly_push_back(10.0)
    harness.close()
    assert [(g.number, g.cue_s) for g in harness.rows(schema.gate_passage)] == [(1, 102.0), (2, 12.0)]
    assert len(harness.rows(schema.finding)) == len(harness.findings())


# -- the database is down, locked or full ------------------------------------------------------------


def _down(_: str) -> Engine:
    raise StoreError("nobody answers")


def test_a_database_that_is_down(pack: Pack, tmp_path: Path, address: str) -> None:
    """While it is down records wait on disk and the pauses grow to a minute; then everything is stored."""
    down = True
    harness = StoreHarness(
        pack, tmp_path / "spool", address, lambda url: _down(url) if down else open_store(url)
    )
    attempts, pause_s = 0, 0.0
    for _ in range(600):  # ten minutes
        before = harness.writer._due_s
        harness.writer.poll()
        if harness.writer._due_s != before:
            attempts, pause_s = attempts + 1, harness.writer._due_s - harness.clock.now_s
        harness.advance(1.0)
    assert 12 <= attempts <= 18
    assert pause_s == MAX_WAIT_S
    harness.fly_push_back()
    assert [type(change) for change in harness.session_changes()] == [StoreUnreachable]
    assert "findings wait on disk: nobody answers" in change_text(harness.session_changes()[0], {})
    assert "next attempt in" in harness.writer.status_text
    down = False
    harness.advance(MAX_WAIT_S)
    harness.writer.poll()
    harness.advance(1.0)
    assert [type(change) for change in harness.session_changes()] == [StoreUnreachable, StoreReachable]
    harness.writer.poll()
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    harness.close()


def test_a_locked_database(harness: StoreHarness) -> None:
    """While another program locks the database records wait."""
    harness.writer.poll()
    other = open_store(harness._address)
    harness.fly_push_back()
    _shorten_lock_timeout(harness.writer)
    with write_transaction(other) as connection:
        connection.execute(text("UPDATE session SET name = 'Mine'"))
        harness.writer.poll()
        assert harness.writer.problem
        assert len(harness.spool_records()) > 5
    harness.advance(2.0)
    harness.writer.poll()
    other.dispose()
    assert harness.writer.problem == ""
    assert len(harness.rows(schema.finding)) == len(harness.findings())


def _shorten_lock_timeout(writer: StoreWriter) -> None:
    """Let the database wait only a moment for a lock."""
    engine = writer._engine_for_writing()
    if engine.dialect.name == "sqlite":
        event.listen(
            engine, "checkout", lambda connection, *_: connection.execute("PRAGMA busy_timeout = 20")
        )
    else:
        event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("SET lock_timeout = 20"))


def test_a_full_disk_of_the_database(pack: Pack, tmp_path: Path) -> None:
    """SQLite's error for a full disk passes, and nothing is lost."""
    harness = StoreHarness(pack, tmp_path / "spool", f"sqlite:///{tmp_path / 'store.sqlite'}")
    harness.writer.poll()
    pages = "PRAGMA max_page_count = {}"
    full = event.listens_for(harness.writer._engine_for_writing(), "checkout")
    limit = [1]
    full(lambda connection, *_: connection.execute(pages.format(limit[0])))
    harness.fly_push_back()
    for _ in range(300):
        harness.request("remark", "", "x" * 400)
    harness.writer.poll()
    assert "full" in harness.writer.problem
    limit[0] = 10**6
    harness.advance(2.0)
    harness.writer.poll()
    assert harness.writer.problem == ""
    assert len(harness.rows(schema.remark)) == 301  # with the note of the problem
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    harness.close()


def test_a_closed_connection(pack: Pack, tmp_path: Path, postgres: Server) -> None:
    """After the server closes the connection nothing is lost or stored twice."""
    postgres.sql("CREATE DATABASE cut TEMPLATE template")
    harness = StoreHarness(pack, tmp_path / "spool", postgres.url("cut"))
    harness.fly_push_back()
    harness.writer.poll()
    postgres.sql("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'cut'")
    harness.request("remark", "", "afterwards")
    harness.writer.poll()
    harness.advance(2.0)
    harness.writer.poll()
    assert [r.text for r in harness.rows(schema.remark) if not r.change] == ["afterwards"]
    assert len(harness.rows(schema.finding)) == len(harness.findings())
    harness.close()
