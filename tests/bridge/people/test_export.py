"""Everything of one person, and nothing of another's name."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from sqlalchemy import select

from bridge.keep import Keep
from bridge.people.export import export, persons
from bridge.store import schema
from bridge.store.opening import open_store, reading
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.people.kept import BEGAN_UTC, two_sessions


def test_an_export_has_all_of_one_person(pack: Pack, tmp_path: Path, address: str) -> None:
    """Both sessions, the seats from when to when, every finding of theirs; no other pseudonym in it."""
    two_sessions(pack, Keep(tmp_path), address)
    engine = open_store(address)
    with reading(engine) as connection:
        found = export(connection, "Plover")
        theirs = select(schema.finding.c.session, schema.finding.c.number).join(schema.person)
        rows = connection.execute(theirs.where(schema.person.c.pseudonym == "Plover")).all()
        known = persons(connection)
    engine.dispose()
    first, second = sorted(found["sessions"], key=lambda one: one["began_utc"])
    assert [seat["seat"] for seat in (*first["seats"], *second["seats"])] == ["first_officer", "captain"]
    assert first["seats"][0]["from_utc"] == BEGAN_UTC
    assert sum(len(one["findings"]) for one in found["sessions"]) == len(rows) > 0
    assert all(notice["seat"] == "first_officer" for notice in first["notices"])
    text = msgspec.json.encode(found).decode()
    assert "heron" not in text.lower()
    assert "Teal" not in text
    assert "Plover helped another person" in text
    assert "was quick" not in text
    assert "For flight simulation only" in found["caution"]
    assert [name for name, _, _ in known] == ["Heron", "Plover", "Teal"]


def test_an_unknown_person_gives_a_hint(pack: Pack, tmp_path: Path, address: str) -> None:
    """A pseudonym that is nearly right is answered with the right one."""
    two_sessions(pack, Keep(tmp_path), address)
    engine = open_store(address)
    with reading(engine) as connection, pytest.raises(InputFaults, match="did you mean Plover"):
        export(connection, "Plovers")
    engine.dispose()
