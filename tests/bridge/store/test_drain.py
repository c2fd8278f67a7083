"""From the spool into the tables, on both databases: everything once, whatever happens on the way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, event, text

from bridge.store import schema
from bridge.store.apply import apply
from bridge.store.drain import LONGEST_WAIT_S, Drain
from bridge.store.opening import StoreError, open_store, writing
from rules.packs.model import Pack
from tests.bridge.store.making import BEGAN_UTC, Desk
from tests.postgres import Server


def test_a_session_is_in_the_tables(desk: Desk) -> None:
    """Every finding is in the store as it was told last, with its class; and the session with its papers and seats."""
    desk.push()
    desk.close()
    (session,) = desk.rows(schema.session)
    assert (session.id, session.name, session.pack) == (desk.rig.session.uuid, "Session 1", "small")
    assert (session.began_utc, session.ending, session.ended_utc) == (BEGAN_UTC, "ended", BEGAN_UTC + 7)
    assert session.seats == {"captain": "Captain", "first_officer": "First officer"}
    found, rows = desk.found(), desk.rows(schema.finding)
    assert len(found) >= 2
    assert [row.number for row in rows] == sorted(found)
    for row in rows:
        told = found[row.number]
        assert (row.kind, row.item, row.sentence) == (told.kind, told.item, told.sentence)
        assert (row.sim_s, row.lead_s, row.carried) == (told.sim_s, told.lead_s, told.carried)
        assert (row.error_class, row.person) == ("procedural error", None)
        assert BEGAN_UTC <= row.utc <= BEGAN_UTC + 7


def test_what_else_is_kept(desk: Desk) -> None:
    """Phases, gates, calls, notices, remarks and what happened to the session are kept, in their order."""
    desk.push()
    desk.ask("remark", "", "slow hands")
    desk.close()
    assert [(p.phase, p.title, p.code) for p in desk.rows(schema.phase)] == [
        ("stand", "At the stand", "STD"),
        ("pushing", "Push back", "PBT"),
    ]
    (gate,) = desk.rows(schema.passage)
    assert (gate.gate, gate.cue_s, gate.entered_s, gate.ready_s) == ("push", 2.0, 6.0, None)
    assert (gate.open_at_cue, gate.carried, gate.needs, gate.cue_utc) == (3, 3, 3, BEGAN_UTC + 2)
    assert [(c.call, c.title, c.retracted_s) for c in desk.rows(schema.call)] == [
        ("push_approved", "push approved", None)
    ]
    assert {n.finding for n in desk.rows(schema.notice)} <= {0, *desk.found()}
    assert [(r.change, r.text) for r in desk.rows(schema.remark)] == [("", "slow hands")]
    numbers = [n.number for n in desk.rows(schema.notice)]
    assert numbers == sorted(numbers)


def test_who_sits_where(desk: Desk) -> None:
    """Who is named first has sat there from the beginning; who comes later has what is found from then on."""
    desk.push()
    desk.ask("seat", "captain", "Heron")
    desk.ask("seat", "captain", "Plover")
    desk.ask("seat", "captain", "")
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


def test_a_finding_belongs_to_who_sits_there_when_it_opens(desk: Desk) -> None:
    """After a change of seats, what is found belongs to the one who sits there then."""
    desk.ask("seat", "captain", "Heron")
    desk.ask("seat", "captain", "Plover")
    desk.push()
    desk.close()
    people = {person.id: person.pseudonym for person in desk.rows(schema.person)}
    assert {people[r.person] for r in desk.rows(schema.finding) if r.seat == "captain"} == {"Plover"}


def test_a_call_that_is_taken_back_is_marked(desk: Desk) -> None:
    """A call that was taken back stays on the record, with when."""
    desk.send(0.0)
    desk.wait(1.0)
    desk.ask("call", "push_approved")
    desk.ask("retract", "push_approved")
    desk.close()
    (call,) = desk.rows(schema.call)
    assert call.retracted_s == call.sim_s == 0.0


def test_names_and_courses(desk: Desk) -> None:
    """What a session is called and belongs to may change; the next one belongs to the same course."""
    desk.ask("name", "Morning")
    desk.ask("course", "Course 12")
    desk.ask("begin", "Noon")
    desk.close()
    sessions = {row.name: row for row in desk.rows(schema.session)}
    assert {name: (row.course, row.ending) for name, row in sessions.items()} == {
        "Morning": ("Course 12", "ended"),
        "Noon": ("Course 12", "ended"),
    }


def test_draining_as_it_goes(desk: Desk) -> None:
    """What is found while the session runs is in the store at the next look; the spool stays until it ends."""
    desk.push()
    desk.drain.look()
    (session,) = desk.rows(schema.session)
    assert (session.ending, session.told) == ("", len(desk.lines()))
    assert len(desk.rows(schema.finding)) == len(desk.found())
    desk.ask("remark", "", "more")
    desk.drain.look()
    assert [r.text for r in desk.rows(schema.remark)] == ["more"]
    desk.close()
    assert list(desk.folder.glob("*.lines")) == []


def test_every_line_counts_once(desk: Desk) -> None:
    """Lines that are put in a second time change nothing, from wherever the second time begins."""
    desk.push()
    desk.drain.look()
    engine = open_store(desk._address)
    before = {table.name: desk.rows(table) for table in schema.metadata.sorted_tables}
    for start in range(len(desk.lines())):
        with writing(engine) as connection:
            assert apply(connection, desk.rig.session.uuid, desk.lines()[start:]) == 0
    assert {table.name: desk.rows(table) for table in schema.metadata.sorted_tables} == before
    engine.dispose()


def test_a_commit_that_nobody_heard_of_is_not_done_twice(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the database had committed and the answer was lost, the next try adds nothing."""
    desk.push()
    lost = iter([True, False])

    @contextmanager
    def loses(engine: Engine) -> Iterator[Connection]:
        with writing(engine) as connection:
            yield connection
        if next(lost, False):
            raise StoreError("the answer was lost")

    monkeypatch.setattr("bridge.store.drain.writing", loses)
    desk.drain.look()
    assert "the answer was lost" in desk.drain.trouble
    desk.wait(2.0)
    desk.drain.look()
    assert desk.drain.trouble == ""
    assert len(desk.rows(schema.finding)) == len(desk.found())
    assert len(desk.rows(schema.phase)) == 2


def test_a_spool_that_nobody_writes_is_broken_off(desk: Desk) -> None:
    """A session whose program was killed is in the store, marked as broken off, and ended at its last line."""
    desk.push()
    assert desk.kept._keeper is not None
    desk.kept._keeper.spool._lock.release()  # as the system does when the process ends
    desk.drain.look()
    (session,) = desk.rows(schema.session)
    assert (session.ending, session.ended_utc) == ("broken off", session.last_utc)
    assert list(desk.folder.glob("*.lines")) == []


def test_a_refused_line_does_not_stand_in_the_way(desk: Desk) -> None:
    """A line that the database refuses is put aside with the reason; the others are in the store."""
    desk.push()
    first = next(line for line in desk.lines() if type(line.what).__name__ == "Phased")
    desk.drain.look()
    engine = open_store(desk._address)
    with writing(engine) as connection:  # a row is in its place already
        connection.execute(text("UPDATE session SET told = :told"), {"told": first.number - 1})
    desk.drain._files.clear()
    desk.drain.look()
    engine.dispose()
    assert desk.drain.refused >= 1
    assert "put aside" in desk.drain.words
    assert len(desk.rows(schema.phase)) == 2
    assert (desk.folder / f"{desk.rig.session.uuid}.refused").stat().st_size > 0


def test_characters_that_a_database_has_no_place_for(desk: Desk) -> None:
    """A NUL, which PostgreSQL cannot hold, is replaced; the line is kept."""
    desk.rig.session.remark("a\0b", "")
    desk.close()
    assert [r.text for r in desk.rows(schema.remark)] == ["a\N{REPLACEMENT CHARACTER}b"]


def test_the_wall_clock_set_back(desk: Desk) -> None:
    """An hour back in the middle of a session: everything is kept, in the order in which it was told."""
    desk.send(0.0)
    desk.ask("remark", "", "first")
    desk.wall.now_s -= 3600.0
    desk.ask("remark", "", "second")
    desk.push(1.0)
    desk.close()
    assert [r.text for r in desk.rows(schema.remark)] == ["first", "second"]
    assert len(desk.rows(schema.finding)) == len(desk.found())
    (session,) = desk.rows(schema.session)
    assert session.ending == "ended"


def test_the_simulator_s_clock_jumps_back(desk: Desk) -> None:
    """After a reposition the same gates are passed again, and each passage is kept."""
    desk.push(100.0)
    desk.push(10.0)
    desk.close()
    assert [(g.number, g.cue_s) for g in desk.rows(schema.passage)] == [(1, 102.0), (2, 12.0)]
    assert len(desk.rows(schema.finding)) == len(desk.found())


# -- the database is down, locked or full ------------------------------------------------------------


def _down(_: str) -> Engine:
    raise StoreError("nobody answers")


def test_a_database_that_is_down_for_minutes(pack: Pack, tmp_path: Path, address: str) -> None:
    """While it is down everything waits on the disk, the waits grow to a minute, and it is said; then all goes in."""
    down = True
    desk = Desk(pack, tmp_path / "spool", address, lambda url: _down(url) if down else open_store(url))
    tries = 0
    for _ in range(600):  # ten minutes
        before = desk.drain._due_s
        desk.drain.look()
        tries += desk.drain._due_s != before
        desk.wait(1.0)
    assert 12 <= tries <= 18
    assert desk.drain._wait_s == LONGEST_WAIT_S
    desk.push()
    assert [c.change for c in desk.changes()] == ["not stored now"]
    assert "waits on the disk: nobody answers" in desk.changes()[0].text
    assert "trying again in" in desk.drain.words
    down = False
    desk.wait(LONGEST_WAIT_S)
    desk.drain.look()
    desk.wait(1.0)
    assert [c.change for c in desk.changes()] == ["not stored now", "stored again"]
    desk.drain.look()
    assert len(desk.rows(schema.finding)) == len(desk.found())
    desk.close()


def test_a_database_that_somebody_has_locked(desk: Desk) -> None:
    """While another program holds what is to be written, it waits, and goes in afterwards."""
    desk.drain.look()
    other = open_store(desk._address)
    desk.push()
    _hurry(desk.drain)
    with writing(other) as connection:
        connection.execute(text("UPDATE session SET name = 'Mine'"))
        desk.drain.look()
        assert desk.drain.trouble
        assert len(desk.lines()) > 5
    desk.wait(2.0)
    desk.drain.look()
    other.dispose()
    assert desk.drain.trouble == ""
    assert len(desk.rows(schema.finding)) == len(desk.found())


def _hurry(drain: Drain) -> None:
    """Let the database wait for a lock for a moment only."""
    engine = drain._store()
    if engine.dialect.name == "sqlite":
        event.listen(
            engine, "checkout", lambda connection, *_: connection.execute("PRAGMA busy_timeout = 20")
        )
    else:
        event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("SET lock_timeout = 20"))


def test_a_disk_that_is_full_for_the_database(pack: Pack, tmp_path: Path) -> None:
    """SQLite's own word that the disk is full is trouble that passes; nothing is lost."""
    desk = Desk(pack, tmp_path / "spool", f"sqlite:///{tmp_path / 'store.sqlite'}")
    desk.drain.look()
    pages = "PRAGMA max_page_count = {}"
    full = event.listens_for(desk.drain._store(), "checkout")
    limit = [1]
    full(lambda connection, *_: connection.execute(pages.format(limit[0])))
    desk.push()
    for _ in range(300):
        desk.ask("remark", "", "x" * 400)
    desk.drain.look()
    assert "full" in desk.drain.trouble
    limit[0] = 10**6
    desk.wait(2.0)
    desk.drain.look()
    assert desk.drain.trouble == ""
    assert len(desk.rows(schema.remark)) == 301  # with the note of the trouble
    assert len(desk.rows(schema.finding)) == len(desk.found())
    desk.close()


def test_a_connection_that_is_cut(pack: Pack, tmp_path: Path, postgres: Server) -> None:
    """A server that ends our connection is tried again; nothing is lost, nothing is doubled."""
    postgres.sql("CREATE DATABASE cut TEMPLATE template")
    desk = Desk(pack, tmp_path / "spool", postgres.url("cut"))
    desk.push()
    desk.drain.look()
    postgres.sql("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'cut'")
    desk.ask("remark", "", "afterwards")
    desk.drain.look()
    desk.wait(2.0)
    desk.drain.look()
    assert [r.text for r in desk.rows(schema.remark) if not r.change] == ["afterwards"]
    assert len(desk.rows(schema.finding)) == len(desk.found())
    desk.close()
