"""Tests of the export of one person, which contains no pseudonym of others."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from sqlalchemy import insert, select

import bridge.privacy
from bridge.privacy.export import EXPORT_FIELDS, count_by_person, export_person_data
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import open_store, read_transaction, write_transaction
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import BEGAN_UTC, record_two_sessions


def test_an_export_has_all_of_one_person(pack: Pack, tmp_path: Path, address: str) -> None:
    """An export has sessions, seats with times, and findings of the person; no other pseudonym."""
    record_two_sessions(pack, DataDir(tmp_path), address)
    engine = open_store(address)
    with read_transaction(engine) as connection:
        exported = export_person_data(connection, "Plover")
        of_person = select(schema.finding.c.session, schema.finding.c.number).join(schema.person)
        rows = connection.execute(of_person.where(schema.person.c.pseudonym == "Plover")).all()
        known = count_by_person(connection)
    engine.dispose()
    first, second = sorted(exported["sessions"], key=lambda one: one["began_utc"])
    assert [seat["seat"] for seat in (*first["seats"], *second["seats"])] == ["first_officer", "captain"]
    assert first["seats"][0]["from_utc"] == BEGAN_UTC
    assert sum(len(one["findings"]) for one in exported["sessions"]) == len(rows) > 0
    assert all(notice["seat"] == "first_officer" for notice in first["notices"])
    text = msgspec.json.encode(exported).decode()
    assert "heron" not in text.lower()
    assert "Teal" not in text
    assert "Plover helped another person" in text
    assert "was quick" not in text
    gaps = [[(gap["from_s"], gap["to_s"]) for gap in one["gaps"]] for one in exported["sessions"]]
    waivers = [waiver for one in exported["sessions"] for waiver in one["waivers"]]
    assert [(waiver["by"], waiver["to_s"]) for waiver in waivers] == [("instructor", None)] * 2
    assert waivers[0]["reason"] == "lost again, says another person"
    assert gaps == [[(pytest.approx(7.2), 8.0)]] * 2
    assert "For flight simulation only" in exported["disclaimer"]
    assert [name for name, _, _, _ in known] == ["Heron", "Plover", "Teal"]


def test_an_export_has_the_waivers_of_the_person(pack: Pack, tmp_path: Path, address: str) -> None:
    """A person who waived an item, or undid that, has it in each session, seated or not; others have an instructor's only."""
    record_two_sessions(pack, DataDir(tmp_path), address)
    engine = open_store(address)
    with read_transaction(engine) as connection:
        exported = export_person_data(connection, "Heron")
    engine.dispose()
    for session in exported["sessions"]:
        own, later = session["waivers"]
        assert (own["by"], own["reason"], own["undone_by"]) == ("Heron", "no papers Heron", "Heron")
        assert (own["undone_reason"], later["reason"]) == ("Heron found them", "lost again, says Heron")


def test_an_unknown_person_gives_a_hint(pack: Pack, tmp_path: Path, address: str) -> None:
    """A pseudonym with a typing error gives a hint."""
    record_two_sessions(pack, DataDir(tmp_path), address)
    engine = open_store(address)
    with read_transaction(engine) as connection, pytest.raises(InputFaults, match="did you mean Plover"):
        export_person_data(connection, "Plovers")
    engine.dispose()


def test_an_export_has_exactly_the_described_fields(pack: Pack, tmp_path: Path, address: str) -> None:
    """The fields of an export are those of `EXPORT_FIELDS`, and the README names them."""
    record_two_sessions(pack, DataDir(tmp_path), address)
    engine = open_store(address)
    with read_transaction(engine) as connection:
        exported = export_person_data(connection, "Heron")
    engine.dispose()
    session = exported["sessions"][0]
    assert len(exported["sessions"]) == 2
    assert {*exported, *(f"sessions[].{name}" for name in session)} == EXPORT_FIELDS.keys()
    readme = (Path(bridge.privacy.__path__[0]) / "README.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in readme for name in (*EXPORT_FIELDS, *session["seats"][0]))


@pytest.mark.parametrize(("later", "of_person"), [(0, 0), (1, 1)])
def test_notices_are_those_of_the_seat_while_they_sat_in_it(
    pack: Pack, tmp_path: Path, address: str, later: int, of_person: int
) -> None:
    """Notices to a seat before or after the person are left out; compared by number, not by clocks."""
    record_two_sessions(pack, DataDir(tmp_path), address)
    engine = open_store(address)
    with write_transaction(engine) as connection:
        table = schema.seating
        row = (
            connection.execute(
                select(table)
                .join(schema.person)
                .where(schema.person.c.pseudonym == "Plover", table.c.seat == "captain")
            )
            .mappings()
            .one()
        )
        notices = select(schema.notice.c.number).where(
            schema.notice.c.session == row["session"], schema.notice.c.seat == "captain"
        )
        numbers = connection.execute(notices.order_by(schema.notice.c.number)).scalars().all()
        left = {**row, "number": numbers[-1] + later, "person": None, "utc": 0.0}
        connection.execute(insert(table), left)
    with read_transaction(engine) as connection:
        (session,) = [
            one for one in export_person_data(connection, "Plover")["sessions"] if one["id"] == row["session"]
        ]
    engine.dispose()
    captains = [notice["number"] for notice in session["notices"] if notice["seat"] == "captain"]
    assert captains == numbers[: len(numbers) - 1 + of_person]
    assert session["seats"][0]["to_utc"] == 0.0
