"""What is done too early, or before that which it follows."""

from __future__ import annotations

from rules.judge.entries import Notice
from rules.packs.model import FindingKind
from tests.rules.judge.making import (
    AT_REST,
    BEACON,
    PROBE,
    PUMP,
    Flight,
    Rules,
    called,
    item,
    on,
    only,
    opened,
    push,
    replace,
    told,
)

PUMP_ON = replace(item("pump", on(PUMP)), after=called("ground_clear"))
PROBE_ON = item("probe", on(PROBE))
BEACON_ON = replace(item("beacon", on(BEACON)), follows=(PROBE_ON.id,))


def test_too_early() -> None:
    """What becomes met while its `after` is not so is too early, once it has stood for its hold."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(5, pump="on")
    finding = opened(flight.at(6))[0]
    assert (finding.kind, finding.gate, finding.seat) == (FindingKind.TOO_EARLY, "push", "captain")
    assert finding.wanted == "after ground clear"
    assert finding.actual
    assert told(flight.entries) == ["Too early: pump before ground clear."]


def test_in_time() -> None:
    """After the call it is not too early."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(4, ["ground_clear"])
    flight.at(5, pump="on")
    flight.until(6, 40)
    assert flight.kinds == []


def test_the_call_within_the_hold_is_in_time() -> None:
    """A call that comes within the hold of the action makes it nothing."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(5, pump="on")
    flight.at(5.5, ["ground_clear"])
    flight.until(6, 40)
    assert flight.kinds == []


def test_too_early_is_mended_by_the_call_or_by_taking_it_back() -> None:
    """It closes when that comes which it should have come after, and when the action is taken back."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(5, pump="on")
    flight.at(6)
    flight.at(8, pump="off")
    assert flight.core.findings[0].closed_s == 8
    flight.at(10, pump="on")
    flight.at(11)
    flight.at(12, ["ground_clear"])
    assert [f.closed_s for f in flight.core.findings] == [8, 12]


def test_never_from_unknown() -> None:
    """What was unknown before becoming met was not seen being done."""
    start = {k: v for k, v in AT_REST.items() if k != "pump"}
    flight = Flight(Rules([PUMP_ON]), start=start)
    flight.at(0)
    flight.at(5, pump="on")
    flight.until(6, 9)
    assert flight.kinds == []


def test_never_where_it_cannot_be_told_whether_it_was_too_early() -> None:
    """Where `after` is unknown there is no finding."""
    start = {k: v for k, v in AT_REST.items() if k != "probe"}
    flight = Flight(Rules([replace(PUMP_ON, after=on(PROBE))]), start=start)
    flight.at(0)
    flight.at(5, pump="on")
    flight.until(6, 9)
    assert flight.kinds == []


def test_out_of_order() -> None:
    """What becomes met while an item that it follows is not met is out of order, until that is met too."""
    flight = Flight(Rules([PROBE_ON, BEACON_ON]))
    flight.at(0)
    flight.at(5, beacon="on")
    finding = opened(flight.at(6))[0]
    assert (finding.kind, finding.wanted) == (FindingKind.OUT_OF_ORDER, "after probe")
    assert told(flight.entries) == ["Out of order: beacon before probe."]
    flight.at(9, probe="on")
    assert flight.core.findings[0].closed_s == 9


def test_both_in_one_sample_are_in_order() -> None:
    """All that changes in one sample is done at the same moment, so in order."""
    flight = Flight(Rules([BEACON_ON, PROBE_ON]))
    flight.at(0)
    flight.at(5, beacon="on", probe="on")
    flight.until(6, 9)
    assert flight.kinds == []


def test_following_what_is_excused_or_unknown_is_in_order() -> None:
    """What is excused, or cannot be told, is nothing to wait for."""
    excused = replace(PROBE_ON, excused="dispatched inoperative")
    flight = Flight(Rules([excused, BEACON_ON]))
    flight.at(0)
    flight.at(5, beacon="on")
    flight.until(6, 9)
    assert flight.kinds == []
    flight = Flight(Rules([PROBE_ON, BEACON_ON]))
    flight.at(0)
    flight.core.excuse(PROBE_ON.id, "instructor", "by the scenario")
    flight.at(5, beacon="on")
    flight.until(6, 9)
    assert flight.kinds == []
    start = {k: v for k, v in AT_REST.items() if k != "probe"}
    flight = Flight(Rules([PROBE_ON, BEACON_ON]), start=start)
    flight.at(0)
    flight.at(5, beacon="on")
    flight.until(6, 9)
    assert flight.kinds == []


def test_order_does_not_matter_once_the_gates_are_passed() -> None:
    """An item of gates that are all behind is not judged for its order; one that no gate needs always is."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(1, speed=3.0)
    found = len(flight.core.findings)
    flight.at(5, pump="on")
    flight.until(6, 9)
    assert len(flight.core.findings) == found
    flight = Flight(Rules([PUMP_ON], gates=[push([])]))
    flight.at(0)
    flight.at(1, speed=3.0)
    flight.at(5, pump="on")
    flight.until(6, 9)
    assert [(f.kind, f.gate) for f in flight.core.findings] == [(FindingKind.TOO_EARLY, "")]


def test_its_gate_gives_the_lead() -> None:
    """A finding about order belongs to the gate ahead and gets its lead at the entry."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(5, pump="on")
    flight.at(6)
    flight.at(20, speed=3.0)
    finding = flight.core.findings[0]
    assert (finding.lead_s, finding.carried) == (14.0, True)


def test_excusing_closes_it() -> None:
    """An excused item is not too early any more."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(5, pump="on")
    flight.at(6)
    flight.core.excuse(PUMP_ON.id, "instructor", "by the scenario")
    assert flight.core.findings[0].closed_s == 6


def test_told_again_while_its_gate_is_ahead() -> None:
    """It is told again with the back-off, and not once its gate is behind."""
    flight = Flight(Rules([PUMP_ON]))
    flight.at(0)
    flight.at(5, pump="on")
    flight.until(6, 50)
    assert [n.sim_s for n in only(flight.entries, Notice)] == [6, 36]
    flight.at(60, speed=3.0)
    flight.until(61, 200)
    assert len(only(flight.entries, Notice)) == 2
