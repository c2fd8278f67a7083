"""An operator's pack changes only those parts of the trainer that it names."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.model import Level, Pack
from tests.packs_trainer.circuit_steps import CIRCUIT
from tests.packs_trainer.scripted_circuit import ScriptedCircuit, load_operator_pack, shipped

FOLDER = Path(__file__).parent / "data" / "lindmere"


@pytest.fixture(scope="module")
def club() -> Pack:
    """The club's pack."""
    return load_operator_pack(FOLDER)


def test_changes_only_what_it_names(club: Pack) -> None:
    """One item is added, two are removed, some are changed; all others are the trainer's."""
    base = shipped()
    assert club.faults == ()
    assert club.lineage == ("lindmere_club", "trainer")
    assert set(club.items) - set(base.items) == {"flow.walkround.preheated"}
    assert set(base.items) - set(club.items) == {
        "flow.secure.tied_down.left",
        "flow.secure.tied_down.right",
        "flow.secure.tied_down.tail",
        "flow.before_takeoff.pitot_heat_dry",
    }
    otherwise = {name for name in set(club.items) & set(base.items) if club.items[name] != base.items[name]}
    assert otherwise == {"flow.walkround.fuel_sampled", "flow.walkround.oil_quantity"}
    assert club.items["flow.walkround.fuel_sampled"].level is Level.WARNING
    watches = {watch.id: watch for watch in base.watches}
    assert [w.id for w in club.watches if w != watches[w.id]] == ["watch.taxi_speed"]


def test_new_line_of_the_checklist(club: Pack) -> None:
    """The changed line has the club's answer and items, and the new one stands above it; all others keep their ids."""
    passengers, beacon = club.checklists["before_start"].lines[-2:]
    assert (passengers.id, beacon.id) == (
        "checklist.before_start.passengers",
        "checklist.before_start.beacon",
    )
    assert beacon.answer == "{lights.beacon}, propeller area {propeller.area}"
    assert beacon.items == ("flow.before_start.beacon", "flow.before_start.propeller_clear")
    shipped_ids = [line.id for line in shipped().checklists["before_start"].lines]
    assert [line.id for line in club.checklists["before_start"].lines[:-2]] == shipped_ids[:-2]


def test_flight_with_the_club_pack(club: Pack) -> None:
    """On the same flight more oil is needed, untied is right, and nothing else is found."""
    untied = {"leave": {"parking.tie_down.tail": "removed"}, "set": {"ice.pitot": "off"}}
    assert ScriptedCircuit(club).fly(CIRCUIT, untied).found == {
        "flow.walkround.oil_quantity": "limit_exceeded"
    }
    assert set(ScriptedCircuit().fly(CIRCUIT, untied).found) == {
        "flow.secure.tied_down.tail",
        "flow.before_takeoff.pitot_heat_dry",
    }
