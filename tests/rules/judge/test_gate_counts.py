"""Counts of a gate's needs: what they count, which readiness they allow, and their words."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.judge.events import GateCued, GateEntered, ItemStatus, Verdict
from rules.judge.gate_counts import GateCounts, GateReadiness, count_needs, gate_text, judged_speech
from rules.packs.model import Level, Watch
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    LIGHT,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    called,
    events_of,
    item,
    on,
    push,
    replace,
)

MET, UNMET, UNKNOWN = Verdict.MET, Verdict.UNMET, Verdict.UNKNOWN


@dataclass(frozen=True)
class Need:
    """A need as it is counted."""

    id: str
    status: ItemStatus
    verdict: Verdict


NEEDS = (
    Need("met", ItemStatus.MET, MET),
    Need("confirmed", ItemStatus.CONFIRMED, MET),
    Need("open", ItemStatus.OPEN, UNMET),
    Need("lost", ItemStatus.LOST, UNMET),
    Need("stale", ItemStatus.LOST, UNKNOWN),
    Need("never sent", ItemStatus.NO_DATA, UNKNOWN),
    Need("waived", ItemStatus.WAIVED, UNMET),
)


def test_each_need_is_counted_once() -> None:
    """A waived need does not count; a need with lost data is open and not judged; one without data is only not judged."""
    assert count_needs(NEEDS) == GateCounts(needs=6, judged=4, open=3)
    assert count_needs(NEEDS, {"open", "met"}, 2) == GateCounts(6, 4, 2, later=1, other_findings=2)


@pytest.mark.parametrize(
    ("counts", "readiness"),
    [
        (GateCounts(79, 79, 0), GateReadiness.CLEAR),
        (GateCounts(79, 78, 0), GateReadiness.PARTIAL),
        (GateCounts(79, 18, 0), GateReadiness.PARTIAL),
        (GateCounts(79, 79, 0, later=1), GateReadiness.LATER),
        (GateCounts(79, 78, 0, later=1), GateReadiness.PARTIAL),
        (GateCounts(79, 0, 0), GateReadiness.NOT_JUDGED),
        (GateCounts(79, 79, 0, other_findings=1), GateReadiness.OTHER_OPEN),
        (GateCounts(79, 78, 1), GateReadiness.OPEN),
        (GateCounts(0, 0, 0), GateReadiness.EMPTY),
        (GateCounts(0, 0, 0, other_findings=1), GateReadiness.OTHER_OPEN),
    ],
)
def test_readiness(counts: GateCounts, readiness: GateReadiness) -> None:
    """All clear needs every need judged and met, and nothing open elsewhere."""
    assert counts.readiness is readiness


@given(st.tuples(*[st.integers(0, 4)] * 5))
def test_all_clear_is_the_narrowest(numbers: tuple[int, int, int, int, int]) -> None:
    """Whatever the counts: all clear only with needs, all of them judged, none open, none later, nothing else open."""
    counts = GateCounts(*numbers)
    narrow = counts.needs > 0 and counts.judged == counts.needs
    clear = narrow and not (counts.open or counts.later or counts.other_findings)
    assert (counts.readiness is GateReadiness.CLEAR) == clear


@pytest.mark.parametrize(
    ("counts", "cued", "text"),
    [
        (GateCounts(79, 18, 0), True, "0 open, 18 of 79 judged"),
        (GateCounts(79, 79, 2, 0, 1), True, "2 open, 79 of 79 judged, 1 other finding open"),
        (GateCounts(79, 60, 3, 5, 2), False, "3 to do, 5 later, 60 of 79 judged, 2 other findings open"),
        (GateCounts(0, 0, 0), True, "no items"),
        (GateCounts(0, 0, 0, 0, 1), True, "no items, 1 other finding open"),
    ],
)
def test_words(counts: GateCounts, cued: bool, text: str) -> None:
    """The words always say how much was judged."""
    assert gate_text(counts, cued=cued) == text


def test_the_voice_has_a_short_form() -> None:
    """The voice says how much was judged in words, and nothing where all was."""
    assert judged_speech(GateCounts(79, 18, 2)) == "eighteen of seventy-nine judged"
    assert judged_speech(GateCounts(79, 0, 0)) == "none of seventy-nine judged"
    assert judged_speech(GateCounts(79, 79, 2)) == ""


def test_the_events_of_a_gate_carry_the_counts() -> None:
    """Cue and entry carry what is open, what was judged of how many, and what else is open."""
    names = [item("beacon", on(BEACON)), item("pump", on(PUMP)), item("probe", on(PROBE))]
    watch = Watch("w", "Light", "captain", Level.CAUTION, None, on(LIGHT))
    waived = replace(item("light", on(LIGHT)), waived="inoperative")
    flight = ScriptedFlight(
        PackBuilder([*names, waived], watches=[watch]),
        start={k: v for k, v in AT_REST.items() if k != "probe"},
    )
    flight.send_frame(0, beacon="on")
    flight.send_frame(2, ["ready"])
    assert events_of(flight.events, GateCued) == [GateCued(2, "push", 1, 3, 2, 1)]
    entered = events_of(flight.send_frame(9, speed=3.0), GateEntered)
    assert entered == [GateEntered(9, "push", 1, 3, 2, 1, 1)]


def test_calls_that_nobody_enters_are_not_judged() -> None:
    """Where no calls are entered, a need that waits for a call has not been judged."""
    rules = PackBuilder(
        [item("clearance", called("cleared"))],
        gates=[replace(push(["flow.before.clearance"]), cue=on(LIGHT))],
    )
    silent = ScriptedFlight(rules, calls_entered=False)
    silent.send_frame(0)
    assert silent.judge.snapshot().gates["push"].counts == GateCounts(1, 0, 0)
    spoken = ScriptedFlight(rules)
    spoken.send_frame(0)
    assert spoken.judge.snapshot().gates["push"].counts == GateCounts(1, 1, 1)
