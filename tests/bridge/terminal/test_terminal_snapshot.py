"""Tests of bridge.terminal.terminal_snapshot: it agrees with the judge's full snapshot."""

from __future__ import annotations

from bridge.session.gates_ahead import SATISFIED
from bridge.terminal.terminal_snapshot import build_terminal_snapshot
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link
from tests.contract.waiting import ManualClock


def test_the_snapshot_agrees_with_the_full_snapshot(pack: Pack, clock: ManualClock) -> None:
    """Phase, gates and counts are those of the judge's snapshot after every frame of a small flight."""
    device, _ = device_on_memory_link(pack, clock)
    judge, sender = device.session.judge, FrameSender()
    for second in range(12):
        values = {"lights.beacon": "on" if second > 4 else "off", "flight.ground_speed": 3.0 * (second > 8)}
        calls = {"push_approved": 2.0} if second > 1 else {}
        device.session.receive(sender.datagram(second, values, **calls), second)
        snapshot, full_snapshot = build_terminal_snapshot(judge), judge.snapshot()
        assert (snapshot.phase, snapshot.sim_s, snapshot.quiet) == (
            full_snapshot.phase_title,
            full_snapshot.sim_s,
            full_snapshot.quiet,
        )
        cued = tuple(gate for gate in full_snapshot.gates if gate.cued)
        assert snapshot.gates == (cued or full_snapshot.gates[:1])
        counts = {
            flow.title: [(seat.satisfied, seat.total) for seat in flow.seats] for flow in snapshot.flows
        }
        for flow in full_snapshot.flows:
            if flow.title in counts:
                satisfied = [
                    (sum(item.status in SATISFIED for item in seat.items), len(seat.items))
                    for seat in flow.seats
                ]
                assert counts[flow.title] == satisfied


def test_only_flows_of_the_phase_are_shown(pack: Pack, clock: ManualClock) -> None:
    """A flow of the present phase is shown, and removed once the phase is over."""
    device, _ = device_on_memory_link(pack, clock)
    sender = FrameSender()
    device.session.receive(sender.datagram(0), 0)
    assert [flow.title for flow in build_terminal_snapshot(device.session.judge).flows] == [
        "Before push back"
    ]
    device.session.receive(sender.datagram(1, {"flight.ground_speed": 3.0}), 1)
    snapshot = build_terminal_snapshot(device.session.judge)
    assert (snapshot.phase, snapshot.flows, snapshot.gates) == ("Push back", (), ())
