"""Rules of order: actions that are too early or out of order."""

from __future__ import annotations

from rules.judge.events import Notice
from rules.packs.model import FindingKind
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    called,
    events_of,
    item,
    notice_sentences,
    on,
    opened_findings,
    push,
    replace,
)

PUMP_ON = replace(item("pump", on(PUMP)), after=called("ground_clear"))
PROBE_ON = item("probe", on(PROBE))
BEACON_ON = replace(item("beacon", on(BEACON)), follows=(PROBE_ON.id,))


def test_too_early() -> None:
    """An item that becomes met while its `after` is false is too early, after its hold."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    finding = opened_findings(flight.send_frame(6))[0]
    assert (finding.kind, finding.gate, finding.seat) == (FindingKind.TOO_EARLY, "push", "captain")
    assert finding.wanted == "after ground clear"
    assert finding.actual
    assert notice_sentences(flight.events) == ["Too early: pump before ground clear."]


def test_an_item_met_after_its_call_is_in_time() -> None:
    """An item met after its call is not too early."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(4, ["ground_clear"])
    flight.send_frame(5, pump="on")
    flight.send_frames(6, 40)
    assert flight.finding_kinds == []


def test_the_call_within_the_hold_is_in_time() -> None:
    """A call within the hold of the action prevents the finding."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frame(5.5, ["ground_clear"])
    flight.send_frames(6, 40)
    assert flight.finding_kinds == []


def test_too_early_is_corrected_by_the_call_or_by_undoing_the_action() -> None:
    """The finding closes when the prerequisite is met, and when the action is undone."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frame(6)
    flight.send_frame(8, pump="off")
    assert flight.judge.findings[0].closed_s == 8
    flight.send_frame(10, pump="on")
    flight.send_frame(11)
    flight.send_frame(12, ["ground_clear"])
    assert [f.closed_s for f in flight.judge.findings] == [8, 12]


def test_an_item_unknown_before_is_never_too_early() -> None:
    """An item that was unknown before it became met gives no finding."""
    start = {k: v for k, v in AT_REST.items() if k != "pump"}
    flight = ScriptedFlight(PackBuilder([PUMP_ON]), start=start)
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frames(6, 9)
    assert flight.finding_kinds == []


def test_an_unknown_prerequisite_gives_no_finding() -> None:
    """An unknown `after` gives no finding."""
    start = {k: v for k, v in AT_REST.items() if k != "probe"}
    flight = ScriptedFlight(PackBuilder([replace(PUMP_ON, after=on(PROBE))]), start=start)
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frames(6, 9)
    assert flight.finding_kinds == []


def test_out_of_order() -> None:
    """An item that becomes met while one that it follows is unmet is out of order, until that is met too."""
    flight = ScriptedFlight(PackBuilder([PROBE_ON, BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(5, beacon="on")
    finding = opened_findings(flight.send_frame(6))[0]
    assert (finding.kind, finding.wanted) == (FindingKind.OUT_OF_ORDER, "after probe")
    assert notice_sentences(flight.events) == ["Wrong order: beacon before probe."]
    flight.send_frame(9, probe="on")
    assert flight.judge.findings[0].closed_s == 9


def test_both_in_one_sample_are_in_order() -> None:
    """Changes of one sample are at the same moment, so in order."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PROBE_ON]))
    flight.send_frame(0)
    flight.send_frame(5, beacon="on", probe="on")
    flight.send_frames(6, 9)
    assert flight.finding_kinds == []


def test_an_item_may_follow_a_waived_or_unknown_one() -> None:
    """An item may follow one that is waived or unknown."""
    waived = replace(PROBE_ON, waived="dispatched inoperative")
    flight = ScriptedFlight(PackBuilder([waived, BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(5, beacon="on")
    flight.send_frames(6, 9)
    assert flight.finding_kinds == []
    flight = ScriptedFlight(PackBuilder([PROBE_ON, BEACON_ON]))
    flight.send_frame(0)
    flight.judge.waive(PROBE_ON.id, "instructor", "by the scenario")
    flight.send_frame(5, beacon="on")
    flight.send_frames(6, 9)
    assert flight.finding_kinds == []
    start = {k: v for k, v in AT_REST.items() if k != "probe"}
    flight = ScriptedFlight(PackBuilder([PROBE_ON, BEACON_ON]), start=start)
    flight.send_frame(0)
    flight.send_frame(5, beacon="on")
    flight.send_frames(6, 9)
    assert flight.finding_kinds == []


def test_order_is_not_judged_after_the_gates() -> None:
    """An item of passed gates is not judged for its order; one that no gate needs always is."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(1, speed=3.0)
    found = len(flight.judge.findings)
    flight.send_frame(5, pump="on")
    flight.send_frames(6, 9)
    assert len(flight.judge.findings) == found
    flight = ScriptedFlight(PackBuilder([PUMP_ON], gates=[push([])]))
    flight.send_frame(0)
    flight.send_frame(1, speed=3.0)
    flight.send_frame(5, pump="on")
    flight.send_frames(6, 9)
    assert [(f.kind, f.gate) for f in flight.judge.findings] == [(FindingKind.TOO_EARLY, "")]


def test_its_gate_gives_the_lead() -> None:
    """A finding about order belongs to the gate ahead and gets its lead time at the entry."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frame(6)
    flight.send_frame(20, speed=3.0)
    finding = flight.judge.findings[0]
    assert (finding.lead_s, finding.carried) == (14.0, True)


def test_waiving_an_item_closes_its_finding() -> None:
    """A waived item is not too early any more."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frame(6)
    flight.judge.waive(PUMP_ON.id, "instructor", "by the scenario")
    assert flight.judge.findings[0].closed_s == 6


def test_a_notice_about_order_repeats_before_its_gate() -> None:
    """Its notice is repeated at the intervals, and not after its gate."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON]))
    flight.send_frame(0)
    flight.send_frame(5, pump="on")
    flight.send_frames(6, 50)
    assert [n.sim_s for n in events_of(flight.events, Notice)] == [6, 36]
    flight.send_frame(60, speed=3.0)
    flight.send_frames(61, 200)
    assert len(events_of(flight.events, Notice)) == 2
