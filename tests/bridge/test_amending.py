"""Tests of bridge.amending: amended papers and calls taken back, asked of a watch."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.amending import NAMED, said_of
from bridge.control import Reply, Request
from bridge.lines import Lines
from bridge.rig import Rig
from rules.judge.entries import PapersAmended
from rules.packs.load import load_pack
from tests.bridge.making import PAPERS, Sender, paper, rig_of, text_of, write_pack
from tests.contract.until import Clock

SHEET = """trip:
  title: Lindmere 417, another runway
  values: {v1: 128 kt, v2: 139 kt, runway: "32"}
"""


@pytest.fixture
def rig(tmp_path: Path, clock: Clock) -> Rig:
    """A rig that has received one frame."""
    made, _ = rig_of(load_pack(str(write_pack(tmp_path / "pack")), trip=PAPERS), clock)
    made.session.take(Sender().datagram(1.0), 1.0)
    return made


def test_what_differs_is_amended(rig: Rig) -> None:
    """The values of the sheet that are new are taken, and told in the record; a second time nothing is new."""
    heard: list[object] = []
    rig.session.listen(heard.append)
    reply = rig.answer(Request("amend", "sheet.yaml", "captain", SHEET))
    assert reply.done
    assert reply.text == "papers amended: v1, v2, runway; what reads them is to be checked again"
    assert heard == [PapersAmended(1.0, ("trip.v1", "trip.v2", "trip.runway"), "captain")]
    assert rig.session.core.papers["trip.v2"] == 139.0
    again = rig.answer(Request("amend", "sheet.yaml", "captain", SHEET))
    assert again == Reply(done=True, text="the papers hold all of that already")
    assert len(heard) == 1


def test_a_sheet_that_is_wrong_changes_nothing(rig: Rig) -> None:
    """Every fault of the sheet is told with its line, and no value of it is taken."""
    wrong = SHEET.replace("139 kt", "139 kg").replace("runway", "runwy")
    reply = rig.answer(Request("amend", "sheet.yaml", "", wrong))
    assert not reply.done
    assert "sheet.yaml:3:" in reply.text
    assert "did you mean runway?" in reply.text
    assert "139 kg" in reply.text
    assert rig.session.core.papers == {}


def test_json_is_read_as_json(rig: Rig) -> None:
    """A sheet whose name ends in .json is JSON."""
    text = '{"trip": {"title": "417", "values": {"v1": "128 kt"}}}'
    assert rig.answer(Request("amend", "sheet.json", "", text)).done
    assert not rig.answer(Request("amend", "sheet.json", "", SHEET)).done


def test_many_values_are_counted() -> None:
    """A sentence names the first few and counts the rest."""
    said = said_of({f"trip.value_{n}": 1.0 for n in range(NAMED + 3)})
    assert "value_7 and 3 more;" in said
    assert "value_8" not in said


def test_a_call_is_taken_back(rig: Rig) -> None:
    """The call is as if not made; what was not called is refused with a hint."""
    rig.answer(Request("call", "push_approved", "ground"))
    assert rig.session.core.gates.cues == {"push": 1.0}
    reply = rig.answer(Request("retract", "push_approved", "ground"))
    assert reply == Reply(done=True, text="call taken back: push approved")
    assert rig.session.core.gates.cues == {}
    again = rig.answer(Request("retract", "push_approved"))
    assert not again.done
    assert "push_approved was not called" in again.text


def test_both_are_told_in_lines(rig: Rig) -> None:
    """Lines and timeline say what was taken back and what was amended, and by whom."""
    console = paper()
    rig.session.listen(Lines(console, rig.pack, lambda: None))
    rig.answer(Request("call", "push_approved", "ground"))
    rig.answer(Request("retract", "push_approved", "ground"))
    rig.answer(Request("amend", "sheet.yaml", "captain", SHEET))
    said = text_of(console)
    assert "CALL     push approved: taken back, by ground" in said
    assert "PAPERS   amended: v1, v2, runway, by captain" in said
    lines = [(line.what, line.text, line.by) for line in rig.timeline.lines]
    assert ("call", "push approved: taken back", "ground") in lines
    assert ("papers", "v1, v2, runway", "captain") in lines
