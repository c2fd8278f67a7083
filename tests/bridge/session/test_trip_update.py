"""Tests of bridge.session.trip_update: amended papers and calls taken back, asked of a watch."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.runtime.device import Device
from bridge.session.requests import Reply, Request
from bridge.session.trip_update import MAX_NAMED, describe_changes
from bridge.terminal.console_log import ConsoleLog
from rules.judge.events import TripUpdated
from rules.packs.load_pack import load_pack
from tests.bridge.builders import (
    TRIP,
    FrameSender,
    device_on_memory_link,
    printed_text,
    text_console,
    write_pack,
)
from tests.contract.waiting import ManualClock

SHEET = """trip:
  title: Lindmere 417, another runway
  values: {v1: 128 kt, v2: 139 kt, runway: "32"}
"""


@pytest.fixture
def rig(tmp_path: Path, clock: ManualClock) -> Device:
    """A rig that has received one frame."""
    made, _ = device_on_memory_link(load_pack(str(write_pack(tmp_path / "pack")), trip=TRIP), clock)
    made.session.receive(FrameSender().datagram(1.0), 1.0)
    return made


def test_what_differs_is_amended(rig: Device) -> None:
    """The values of the sheet that are new are taken, and told in the record; a second time nothing is new."""
    heard: list[object] = []
    rig.session.add_listener(heard.append)
    reply = rig.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    assert reply.accepted
    assert reply.text == "papers amended: v1, v2, runway; what reads them is to be checked again"
    assert heard == [TripUpdated(1.0, ("trip.v1", "trip.v2", "trip.runway"), "captain")]
    assert rig.session.judge.trip_values["trip.v2"] == 139.0
    again = rig.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    assert again == Reply(accepted=True, text="the papers hold all of that already")
    assert len(heard) == 1


def test_a_sheet_that_is_wrong_changes_nothing(rig: Device) -> None:
    """Every fault of the sheet is told with its line, and no value of it is taken."""
    wrong = SHEET.replace("139 kt", "139 kg").replace("runway", "runwy")
    reply = rig.handle(Request("amend", "sheet.yaml", "", wrong))
    assert not reply.accepted
    assert "sheet.yaml:3:" in reply.text
    assert "did you mean runway?" in reply.text
    assert "139 kg" in reply.text
    assert rig.session.judge.trip_values == {}


def test_json_is_read_as_json(rig: Device) -> None:
    """A sheet whose name ends in .json is JSON."""
    text = '{"trip": {"title": "417", "values": {"v1": "128 kt"}}}'
    assert rig.handle(Request("amend", "sheet.json", "", text)).accepted
    assert not rig.handle(Request("amend", "sheet.json", "", SHEET)).accepted


def test_many_values_are_counted() -> None:
    """A sentence names the first few and counts the rest."""
    said = describe_changes({f"trip.value_{n}": 1.0 for n in range(MAX_NAMED + 3)})
    assert "value_7 and 3 more;" in said
    assert "value_8" not in said


def test_a_call_is_taken_back(rig: Device) -> None:
    """The call is as if not made; what was not called is refused with a hint."""
    rig.handle(Request("call", "push_approved", "ground"))
    assert rig.session.judge.gates.cued_since == {"push": 1.0}
    reply = rig.handle(Request("undo_call", "push_approved", "ground"))
    assert reply == Reply(accepted=True, text="call taken back: push approved")
    assert rig.session.judge.gates.cued_since == {}
    again = rig.handle(Request("undo_call", "push_approved"))
    assert not again.accepted
    assert "push_approved has not been called" in again.text


def test_both_are_told_in_lines(rig: Device) -> None:
    """Lines and timeline say what was taken back and what was amended, and by whom."""
    console = text_console()
    rig.session.add_listener(ConsoleLog(console, rig.pack, lambda: None))
    rig.handle(Request("call", "push_approved", "ground"))
    rig.handle(Request("undo_call", "push_approved", "ground"))
    rig.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    said = printed_text(console)
    assert "CALL     push approved: taken back, by ground" in said
    assert "PAPERS   amended: v1, v2, runway, by captain" in said
    lines = [(line.kind, line.text, line.by) for line in rig.timeline.entries]
    assert ("call", "push approved: taken back", "ground") in lines
    assert ("trip_sheet", "v1, v2, runway", "captain") in lines
