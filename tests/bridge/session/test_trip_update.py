"""Tests of bridge.session.trip_update: updated trip sheets and undone calls."""

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
def device(tmp_path: Path, clock: ManualClock) -> Device:
    """A device that has received one frame."""
    made, _ = device_on_memory_link(load_pack(str(write_pack(tmp_path / "pack")), trip=TRIP), clock)
    made.session.receive(FrameSender().datagram(1.0), 1.0)
    return made


def test_what_differs_is_amended(device: Device) -> None:
    """New values of the sheet are applied and published; the same sheet again changes nothing."""
    heard: list[object] = []
    device.session.add_listener(heard.append)
    reply = device.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    assert reply.accepted
    assert reply.text == "trip sheet amended: v1, v2, runway; items that use it must be checked again"
    assert heard == [TripUpdated(1.0, ("trip.v1", "trip.v2", "trip.runway"), "captain")]
    assert device.session.judge.trip_values["trip.v2"] == 139.0
    again = device.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    assert again == Reply(accepted=True, text="the trip sheet has all of that already")
    assert len(heard) == 1


def test_a_sheet_that_is_wrong_changes_nothing(device: Device) -> None:
    """Every fault of the sheet is reported with its line, and no value is applied."""
    wrong = SHEET.replace("139 kt", "139 kg").replace("runway", "runwy")
    reply = device.handle(Request("amend", "sheet.yaml", "", wrong))
    assert not reply.accepted
    assert "sheet.yaml:3:" in reply.text
    assert "did you mean runway?" in reply.text
    assert "139 kg" in reply.text
    assert device.session.judge.trip_values == {}


def test_json_is_read_as_json(device: Device) -> None:
    """A sheet whose name ends in .json is JSON."""
    text = '{"trip": {"title": "417", "values": {"v1": "128 kt"}}}'
    assert device.handle(Request("amend", "sheet.json", "", text)).accepted
    assert not device.handle(Request("amend", "sheet.json", "", SHEET)).accepted


def test_many_values_are_counted() -> None:
    """A sentence names the first few and counts the rest."""
    said = describe_changes({f"trip.value_{n}": 1.0 for n in range(MAX_NAMED + 3)})
    assert "value_7 and 3 more;" in said
    assert "value_8" not in said


def test_a_call_is_taken_back(device: Device) -> None:
    """An undone call has no effect; a call that was not entered is refused with a hint."""
    device.handle(Request("call", "push_approved", "ground"))
    assert device.session.judge.gates.cued_since == {"push": 1.0}
    reply = device.handle(Request("undo_call", "push_approved", "ground"))
    assert reply == Reply(accepted=True, text="call undone: push approved")
    assert device.session.judge.gates.cued_since == {}
    again = device.handle(Request("undo_call", "push_approved"))
    assert not again.accepted
    assert "push_approved has not been called" in again.text


def test_both_are_told_in_lines(device: Device) -> None:
    """Console and timeline have lines for an undone call and updated values, with the author."""
    console = text_console()
    device.session.add_listener(ConsoleLog(console, device.pack, lambda: None))
    device.handle(Request("call", "push_approved", "ground"))
    device.handle(Request("undo_call", "push_approved", "ground"))
    device.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    said = printed_text(console)
    assert "CALL     push approved: undone, by ground" in said
    assert "TRIP     amended: v1, v2, runway, by captain" in said
    lines = [(line.kind, line.text, line.by) for line in device.timeline.entries]
    assert ("call", "push approved: undone", "ground") in lines
    assert ("trip_sheet", "v1, v2, runway", "captain") in lines
