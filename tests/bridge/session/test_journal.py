"""Tests of bridge.session.journal: the collected events of a flight."""

from __future__ import annotations

import msgspec

from bridge.session.requests import Request
from rules.judge.events import WaiverBegun, WaiverUndone
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock


def test_findings_have_their_latest_state(pack: Pack, clock: ManualClock) -> None:
    """A changed finding replaces its earlier state; notices, phases, gates and calls are in order."""
    device, _ = device_on_memory_link(pack, clock)
    sender, off = FrameSender(), {"lights.beacon": "off"}
    feed(device, sender.datagram(0, off), 0)
    for second in (1, 2, 3):
        feed(device, sender.datagram(second, off, push_approved=1.0), second)
    for second in (4, 5, 6):
        feed(device, sender.datagram(second, push_approved=1.0), second)
    feed(device, sender.datagram(7, {"flight.ground_speed": 3.0}, push_approved=1.0), 7)
    journal = device.journal
    beacon, documents = journal.findings.values()
    assert (beacon.item, beacon.closed_s, beacon.carried) == ("flow.before.beacon", 4.0, False)
    assert (documents.item, documents.closed_s, documents.carried) == ("flow.before.documents", None, True)
    assert beacon.lead_s == documents.lead_s == 7.0 - beacon.sim_s
    assert journal.notices[0].sentence == "Before push back: beacon is off."
    assert [phase.phase for phase in journal.phases] == ["stand", "pushing"]
    assert [type(gate).__name__ for gate in journal.gate_events] == ["GateCued", "GateEntered"]
    assert [call.call for call in journal.calls] == ["push_approved"]


def test_waivers_are_in_order(pack: Pack, clock: ManualClock) -> None:
    """A waiver and its undo are collected in their order."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0), 0)
    device.handle(Request("waive", "flow.before.beacon", "captain", "lamp failed"))
    device.handle(Request("undo_waiver", "flow.before.beacon", "instructor"))
    assert device.journal.waivers == [
        WaiverBegun(0, "flow.before.beacon", "lamp failed", "captain"),
        WaiverUndone(0, "flow.before.beacon", "", "instructor", 0),
    ]


def test_a_jump_back_of_the_clock_is_counted(pack: Pack, clock: ManualClock) -> None:
    """A reset of the monitors is counted, and earlier findings remain."""
    device, _ = device_on_memory_link(pack, clock)
    sender, off = FrameSender(), {"lights.beacon": "off"}
    for second in (100, 101, 103):
        feed(device, sender.datagram(second, off, push_approved=100.5), second)
    found = dict(device.journal.findings)
    for second in (0, 1):
        feed(device, sender.datagram(second, off), 110 + second)
    assert device.journal.resets == 1
    assert found
    assert device.journal.findings == found


def test_a_journal_can_be_written_as_json(pack: Pack, clock: ManualClock) -> None:
    """Findings, notices, phases and times become JSON; each finding has kind, item, gate, seat, times and values."""
    device, _ = device_on_memory_link(pack, clock)
    sender, off = FrameSender(), {"lights.beacon": "off"}
    for second in (0, 1, 3):
        feed(device, sender.datagram(second, off, push_approved=0.5), second)
    fields = msgspec.json.decode(msgspec.json.encode(device.journal.as_dict()))
    assert set(fields) == {"findings", "notices", "phases", "gates", "flight_times"}
    first = fields["findings"][0]
    keys = ("kind", "item", "gate", "seat", "sim_s", "actual", "wanted", "lead_s")
    assert {key: first[key] for key in keys} == {
        "kind": "omitted", "item": "flow.before.beacon", "gate": "push", "seat": "captain",
        "sim_s": first["sim_s"], "actual": "off", "wanted": "on", "lead_s": None,
    }  # fmt: skip
