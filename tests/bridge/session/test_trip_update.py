"""Tests of bridge.session.trip_update: updated trip sheets and undone calls."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.runtime.device import Device
from bridge.session.requests import Reply, Request
from bridge.session.session_events import KINDS
from bridge.session.trip_update import MAX_NAMED, changed_values, describe_changes
from bridge.terminal.console_log import ConsoleLog
from rules.faults import InputFaults
from rules.judge.events import TripUpdated
from rules.packs.load_pack import load_pack
from rules.signals.model import Value
from tests.bridge.builders import (
    TRIP,
    FrameSender,
    device_on_memory_link,
    feed,
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
    """Give a device that has received one frame."""
    new_device, _ = device_on_memory_link(load_pack(str(write_pack(tmp_path / "pack")), trip=TRIP), clock)
    feed(new_device, FrameSender().datagram(1.0), 1.0)
    return new_device


def test_only_changed_values_are_updated(device: Device) -> None:
    """New values of the sheet are applied and published; the same sheet again changes nothing."""
    events: list[object] = []
    device.bus.subscribe(events.append, *KINDS)
    reply = device.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    assert reply.accepted
    assert reply.text == "trip sheet amended: v1, v2, runway; items that use it must be checked again"
    assert events == [TripUpdated(1.0, ("trip.v1", "trip.v2", "trip.runway"), "captain")]
    assert device.session.trip_values["trip.v2"] == 139.0
    second_reply = device.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    assert second_reply == Reply(accepted=True, text="the trip sheet has all of that already")
    assert len(events) == 1


def test_a_faulty_sheet_changes_nothing(device: Device) -> None:
    """Every fault of the sheet is reported with its line, and no value is applied."""
    faulty_sheet = SHEET.replace("139 kt", "139 kg").replace("runway", "runwy")
    reply = device.handle(Request("amend", "sheet.yaml", "", faulty_sheet))
    assert not reply.accepted
    assert "sheet.yaml:3:" in reply.text
    assert "did you mean runway?" in reply.text
    assert "139 kg" in reply.text
    assert device.session.trip_values == {}


PLACES: dict[str, tuple[Value, str]] = {
    "heading": (143.0, "323 deg"),
    "latitude": (46.8178, "46.8010 deg"),
    "longitude": (-21.4543, "-21.4353 deg"),
}


@pytest.mark.parametrize("runway", ["runway", "landing_runway"])
@pytest.mark.parametrize("missing", [("heading",), ("latitude",), ("longitude",), tuple(PLACES), ()])
def test_another_runway_comes_with_its_place(tmp_path: Path, runway: str, missing: tuple[str, ...]) -> None:
    """Whatever of its strip would stay that of the runway before, the sheet is refused, and nothing is changed."""
    pack = load_pack(str(write_pack(tmp_path / "pack")))
    present = {f"trip.{runway}": "14"} | {f"trip.{runway}_{name}": old for name, (old, _) in PLACES.items()}
    given = {f"{runway}_{name}": new for name, (_, new) in PLACES.items() if name not in missing}
    values = "".join(f"    {name}: {new}\n" for name, new in given.items())
    text = f'trip:\n  title: Lindmere 417\n  values:\n    {runway}: "32"\n{values}'
    if not missing:
        assert set(changed_values(pack, present, text, "sheet.yaml")) == set(present)
        return
    with pytest.raises(InputFaults) as refused:
        changed_values(pack, present, text, "sheet.yaml")
    (fault,) = refused.value.faults
    assert (fault.place.line, fault.place.column) == (4, 5)
    assert fault.hint.startswith(
        f"write {', '.join(f'{runway}_{name}' for name in missing)} of runway 32 too"
    )
    same = text.replace('"32"', '"14"')
    assert f"trip.{runway}" not in changed_values(pack, present, same, "sheet.yaml")
    assert changed_values(pack, {f"trip.{runway}": "14"}, text, "sheet.yaml")[f"trip.{runway}"] == "32"


def test_a_json_sheet_is_read_as_json(device: Device) -> None:
    """A sheet whose name ends in .json is JSON."""
    text = '{"trip": {"title": "417", "values": {"v1": "128 kt"}}}'
    assert device.handle(Request("amend", "sheet.json", "", text)).accepted
    assert not device.handle(Request("amend", "sheet.json", "", SHEET)).accepted


def test_many_values_are_counted() -> None:
    """A sentence names the first values and counts the others."""
    text = describe_changes({f"trip.value_{n}": 1.0 for n in range(MAX_NAMED + 3)})
    assert "value_7 and 3 more;" in text
    assert "value_8" not in text


def test_a_call_can_be_undone(device: Device) -> None:
    """An undone call has no effect; a call that was not entered is refused with a hint."""
    device.handle(Request("call", "push_approved", "ground"))
    assert device.session.snapshot().gates["push"].cued_s == 1.0
    reply = device.handle(Request("undo_call", "push_approved", "ground"))
    assert reply == Reply(accepted=True, text="call undone: push approved")
    assert device.session.snapshot().gates["push"].cued_s is None
    refused = device.handle(Request("undo_call", "push_approved"))
    assert not refused.accepted
    assert "push_approved has not been called" in refused.text


def test_updates_and_undone_calls_are_printed(device: Device) -> None:
    """Console and timeline have an entry for an undone call and for updated values, with the author."""
    console = text_console()
    device.bus.subscribe(ConsoleLog(console, device.pack, lambda: None), *ConsoleLog.EVENTS)
    device.handle(Request("call", "push_approved", "ground"))
    device.handle(Request("undo_call", "push_approved", "ground"))
    device.handle(Request("amend", "sheet.yaml", "captain", SHEET))
    text = printed_text(console)
    assert "CALL     push approved: undone, by ground" in text
    assert "TRIP     amended: v1, v2, runway, by captain" in text
    lines = [(line.kind, line.text, line.by) for line in device.timeline.entries]
    assert ("call", "push approved: undone", "ground") in lines
    assert ("trip_sheet", "v1, v2, runway", "captain") in lines
