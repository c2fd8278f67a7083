"""Tests of bridge.glance: it says the same as the core's whole picture, of what is shown."""

from __future__ import annotations

from bridge.glance import DONE, take_glance
from rules.packs.model import Pack
from tests.bridge.making import Sender, rig_of
from tests.contract.until import Clock


def test_a_glance_agrees_with_the_picture(pack: Pack, clock: Clock) -> None:
    """Phase, gates and counts are those of the picture at every moment of a small flight."""
    rig, _ = rig_of(pack, clock)
    core, sender = rig.session.core, Sender()
    for second in range(12):
        values = {"lights.beacon": "on" if second > 4 else "off", "flight.ground_speed": 3.0 * (second > 8)}
        calls = {"push_approved": 2.0} if second > 1 else {}
        rig.session.take(sender.datagram(second, values, **calls), second)
        glance, picture = take_glance(core), core.picture()
        assert (glance.phase, glance.sim_s, glance.quiet) == (
            picture.phase_title,
            picture.sim_s,
            picture.quiet,
        )
        cued = tuple(gate for gate in picture.gates if gate.cued)
        assert glance.gates == (cued or picture.gates[:1])
        counts = {flow.title: [(seat.done, seat.of) for seat in flow.seats] for flow in glance.flows}
        for flow in picture.flows:
            if flow.title in counts:
                done = [
                    (sum(item.life in DONE for item in seat.items), len(seat.items)) for seat in flow.seats
                ]
                assert counts[flow.title] == done


def test_flows_are_those_of_the_phase(pack: Pack, clock: Clock) -> None:
    """A flow of the present phase is shown, and not any more once the phase is over."""
    rig, _ = rig_of(pack, clock)
    sender = Sender()
    rig.session.take(sender.datagram(0), 0)
    assert [flow.title for flow in take_glance(rig.session.core).flows] == ["Before push back"]
    rig.session.take(sender.datagram(1, {"flight.ground_speed": 3.0}), 1)
    glance = take_glance(rig.session.core)
    assert (glance.phase, glance.flows, glance.gates) == ("Push back", (), ())
