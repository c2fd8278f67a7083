"""Needs that cannot be met yet: shown apart before the cue, open after it."""

from __future__ import annotations

import pytest

from rules.judge.events import ItemStatus
from rules.judge.gate_counts import GateCounts
from rules.judge.snapshot import GateSnapshot
from rules.language import checked_tree as c
from rules.packs.model import Flow, Item, Pack
from tests.rules.judge.scripted_flight import (
    BEACON,
    LIGHT,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    called,
    go,
    item,
    on,
    push,
    replace,
)

PUMP_ON = replace(item("pump", on(PUMP)), after=called("ground_clear"))
PROBE_ON = replace(item("probe", on(PROBE)), follows=("flow.before.beacon",))
BEACON_ON = item("beacon", on(BEACON))


def seen(flight: ScriptedFlight, gate: str = "push") -> GateSnapshot:
    """A gate as screens show it."""
    return flight.judge.snapshot().gates[gate]


def later(flight: ScriptedFlight, gate: str = "push") -> list[str]:
    """Keys of the needs that are later."""
    return [item.id.rpartition(".")[2] for item in seen(flight, gate).later_items]


def test_a_need_that_waits_for_a_call_is_later() -> None:
    """Until its call is made, an item is later, not to do; afterwards it is to do."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON, BEACON_ON]))
    flight.send_frame(0)
    assert later(flight) == ["pump"]
    assert seen(flight).text == "1 to do, 1 later, 2 of 2 judged"
    flight.send_frame(1, ["ground_clear"])
    assert later(flight) == []
    assert seen(flight).counts == GateCounts(2, 2, 2)


def test_an_unknown_prerequisite_hides_nothing() -> None:
    """Where no calls are entered, a need that waits for one is to do as any other."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]), calls_entered=False)
    flight.send_frame(0)
    assert later(flight) == []
    assert [item.id for item in seen(flight).open_items] == [PUMP_ON.id]


def test_a_need_in_a_strict_order_waits_for_the_one_before() -> None:
    """An item is later while the item that it follows is unmet, and to do from then on."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PROBE_ON]))
    flight.send_frame(0)
    assert later(flight) == ["probe"]
    flight.send_frame(1, beacon="on")
    assert later(flight) == []
    flight.send_frame(2, beacon="off")
    assert later(flight) == ["probe"]


def test_a_met_need_is_never_later() -> None:
    """What is met is met, whatever it waits for."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0, pump="on")
    assert later(flight) == []
    assert [item.id for item in seen(flight).met_items] == [PUMP_ON.id]


def test_at_the_cue_every_unmet_need_is_open() -> None:
    """A gate that is about to be passed hides nothing: what is not met is open, and is found."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    assert (later(flight), seen(flight).counts) == ([], GateCounts(1, 1, 1))
    flight.send_frame(3)
    assert flight.finding_kinds == ["omitted pump"]


HELD = c.TimedHistorically(on(PUMP), 5.0)


@pytest.mark.parametrize(
    ("condition", "only_waits"),
    [
        (HELD, True),
        (c.And((HELD, on(BEACON))), True),
        (c.And((HELD, on(PROBE))), False),
        (c.Or((HELD, c.TimedHistorically(on(PUMP), 9.0))), True),
        (c.Or((HELD, on(PROBE))), False),
        (c.Implies(on(BEACON), HELD), True),
        (c.Not(c.Not(HELD)), True),
        (c.Not(c.TimedHistorically(on(BEACON), 0.5)), False),
    ],
)
def test_a_need_that_only_has_to_stay_so_is_later(condition: c.Condition, *, only_waits: bool) -> None:
    """Where all that is missing is time there is nothing to do; where something else is missing there is."""
    held = item("held", condition)
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, pump="off", beacon="on", probe="off")
    flight.send_frame(1, pump="on")
    flight.send_frame(2)
    assert later(flight) == ["held"] * only_waits
    flight.send_frame(3, ["ready"])
    assert (later(flight), seen(flight).counts.open) == ([], 1)


@pytest.mark.parametrize(
    "condition", [c.TimedHistorically(on(BEACON), 9.0), c.Not(c.TimedHistorically(on(BEACON), 9.0))]
)
def test_a_need_that_is_not_known_yet_is_neither_later_nor_open(condition: c.Condition) -> None:
    """What was true at the first frame may have been so for long enough, or not."""
    held = item("held", condition)
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(2)
    for calls in ([], ["ready"]):
        flight.send_frame(3, calls)
        assert (later(flight), seen(flight).counts) == ([], GateCounts(1, 0, 0))
        assert [need.status for need in seen(flight).no_data_items] == [ItemStatus.UNKNOWN]


class _TwoPhases(PackBuilder):
    """A pack whose light belongs to a flow of the second phase."""

    def pack(self) -> Pack:
        """The pack."""
        made = super().pack()
        flow = Flow("roll", "Roll", "pushing", {"captain": ("flow.roll.light",)})
        return replace(made, flows={**made.flows, "roll": flow})


def test_a_need_of_a_later_phase_waits_for_it() -> None:
    """An item of a flow belongs to that flow's phase: before it the item is later."""
    light: Item = replace(item("light", on(LIGHT)), id="flow.roll.light")
    gates = [push([BEACON_ON.id]), go([BEACON_ON.id, light.id])]
    flight = ScriptedFlight(_TwoPhases([BEACON_ON, light], gates=gates))
    flight.send_frame(0)
    assert later(flight, "go") == ["light"]
    assert seen(flight, "go").text == "1 to do, 1 later, 2 of 2 judged"
    flight.send_frame(1, ["ready"], beacon="on")
    flight.send_frame(5, speed=3.0)
    assert flight.phases == ["stand", "pushing"]
    assert later(flight, "go") == []
