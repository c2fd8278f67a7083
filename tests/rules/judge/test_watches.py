"""Watches: limits that must hold while their condition applies."""

from __future__ import annotations

import pytest

from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from rules.language import checked_tree as c
from rules.packs.model import FindingKind, Level, Watch
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    LIGHT,
    SPEED,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    notice_sentences,
    on,
    opened_findings,
)

MOVING = Watch(
    "beacon_moving",
    "Beacon",
    "captain",
    Level.CAUTION,
    above(HEADING, 10),
    on(BEACON),
    hold_s=2.0,
    why="it warns",
)
ALWAYS = Watch("beacon_always", "Beacon", "captain", Level.WARNING, None, on(BEACON))


def flight_with_watch(watch: Watch, **values: str | float) -> ScriptedFlight:
    """A flight with this watch, after its first frame."""
    flight = ScriptedFlight(PackBuilder([], watches=[watch]), start=AT_REST | values)
    flight.send_frame(0)
    return flight


def test_opens_after_its_hold_and_closes_after_its_clear_time() -> None:
    """A watch that does not hold is found after its hold, and closes once it holds for its clear time."""
    flight = flight_with_watch(MOVING)
    flight.send_frame(5, heading=20.0)
    flight.send_frame(6)
    assert flight.finding_kinds == []
    finding = opened_findings(flight.send_frame(7))[0]
    assert (finding.kind, finding.item, finding.gate, finding.why) == (
        FindingKind.LIMIT_EXCEEDED,
        "beacon_moving",
        "",
        "it warns",
    )
    assert len(notice_sentences(flight.events)) == 1
    flight.send_frame(10, beacon="on")
    flight.send_frame(11)
    assert flight.judge.findings[0].closed_s is None
    flight.send_frame(12)
    finding = flight.judge.findings[0]
    assert (finding.closed_s, finding.lead_s, finding.carried) == (10, None, False)


def test_a_watch_that_does_not_apply_is_not_judged() -> None:
    """A watch that does not apply finds nothing; one that ceases to apply closes at once."""
    flight = flight_with_watch(MOVING)
    flight.send_frames(1, 20)
    assert flight.finding_kinds == []
    flight.send_frame(21, heading=20.0)
    flight.send_frame(25)
    flight.send_frame(30, heading=0.0)
    assert flight.judge.findings[0].closed_s == 30


def test_an_uncorrected_watch_that_applies_again_reopens_its_finding() -> None:
    """A watch that applies again and has never held since reopens its finding."""
    flight = flight_with_watch(MOVING)
    flight.send_frame(5, heading=20.0)
    flight.send_frame(8)
    flight.send_frame(20, heading=0.0)
    assert [f.closed_s for f in flight.judge.findings] == [20]
    flight.send_frame(30, heading=20.0)
    flight.send_frame(33)
    assert [f.closed_s for f in flight.judge.findings] == [None]
    flight.send_frame(40, beacon="on")
    flight.send_frame(45, heading=0.0)
    flight.send_frame(50, heading=20.0, beacon="off")
    flight.send_frame(55)
    assert [f.closed_s for f in flight.judge.findings] == [40, None]


def test_without_a_hold_it_opens_at_once() -> None:
    """A watch without a hold is found in the very step, also in the first."""
    flight = flight_with_watch(ALWAYS, beacon="on")
    assert flight.finding_kinds == []
    assert [f.level for f in opened_findings(flight.send_frame(3, beacon="off"))] == [Level.WARNING]
    assert len(flight_with_watch(ALWAYS).judge.findings) == 1


def test_flapping_within_hold_and_clear_gives_no_finding() -> None:
    """A watch that fails for less than its hold is not found; one that holds for less than its clear stays open."""
    flight = flight_with_watch(MOVING, beacon="on", heading=20.0)
    for second in range(1, 20):
        flight.send_frame(float(second), beacon="off" if second % 2 else "on")
    assert flight.finding_kinds == []
    flight.send_frame(21, beacon="off")
    flight.send_frame(25)
    flight.send_frame(26, beacon="on")
    flight.send_frame(27, beacon="off")
    flight.send_frames(28, 33)
    assert len(flight.judge.findings) == 1
    assert flight.judge.findings[0].closed_s is None


def test_a_watch_applies_only_in_its_phases() -> None:
    """A watch of one phase applies there only, from the entry on, and closes when the phase is left."""
    only_pushing = Watch("p", "Beacon", "captain", Level.CAUTION, None, on(BEACON), phases=("pushing",))
    flight = ScriptedFlight(PackBuilder([], watches=[only_pushing]))
    flight.send_frames(0, 5)
    assert flight.finding_kinds == []
    flight.send_frame(6, speed=3.0)
    assert [f.phase for f in flight.judge.findings] == ["pushing"]
    flight.reset_clock(1.0, speed=0.0, beacon="on")
    assert flight.judge.snapshot().watches["p"].status == "does not apply"


def test_an_unknown_watch_neither_opens_nor_closes_a_finding() -> None:
    """An unknown watch opens no finding, and closes none."""
    flight = flight_with_watch(ALWAYS, beacon="on")
    del flight.values["beacon"]
    flight.send_frames(1, 9)
    assert flight.finding_kinds == []
    flight.send_frame(10, beacon="off")
    del flight.values["beacon"]
    flight.send_frames(11, 20)
    assert [f.closed_s for f in flight.judge.findings] == [None]
    changes = events_of(flight.events, VerdictChanged)
    assert [(e.verdict, e.status) for e in changes] == [
        (Verdict.MET, ItemStatus.MET),
        (Verdict.UNKNOWN, ItemStatus.UNKNOWN),
        (Verdict.UNMET, ItemStatus.OPEN),
        (Verdict.UNKNOWN, ItemStatus.UNKNOWN),
    ]


def test_a_watch_on_a_signal_never_sent_has_no_data() -> None:
    """A watch whose signal is never sent has no data."""
    start = {k: v for k, v in AT_REST.items() if k != "beacon"}
    flight = ScriptedFlight(PackBuilder([], watches=[ALWAYS]), start=start)
    flight.send_frames(0, 9)
    assert flight.finding_kinds == []
    assert [e.status for e in events_of(flight.events, VerdictChanged)] == [ItemStatus.NO_DATA]


def test_the_kind_is_the_watchs() -> None:
    """A watch sets the kind of its findings."""
    early = Watch(
        "e", "Roll", "captain", Level.CAUTION, above(SPEED, 10), on(BEACON), finding=FindingKind.TOO_EARLY
    )
    flight = flight_with_watch(early)
    flight.send_frame(2, speed=20.0)
    assert [f.kind for f in flight.judge.findings] == [FindingKind.TOO_EARLY]
    assert notice_sentences(flight.events)[0].startswith("Too early: ")


def beacon_watch(applies: c.Condition) -> Watch:
    """A watch of the beacon."""
    return Watch("b", "Beacon", "captain", Level.CAUTION, applies, on(BEACON))


NEVER_SENT = [
    c.Or((above(HEADING, 10), on(LIGHT))),
    c.Or((on(LIGHT), c.And((above(HEADING, 10), above(SPEED, -1))))),
    c.Or((above(HEADING, 10), c.Not(on(LIGHT)))),
    c.Or((above(HEADING, 10), called("ready"))),
    c.NumberOf((above(HEADING, 10), on(LIGHT)), 1, 2),
    c.And((above(SPEED, -1), c.Or((above(HEADING, 10), c.TimedHistorically(on(LIGHT), 1.0))))),
]


@pytest.mark.parametrize("applies", NEVER_SENT, ids=range(len(NEVER_SENT)))
def test_what_is_never_known_does_not_keep_a_finding_open(applies: c.Condition) -> None:
    """The heading made it apply, and does not any more; of the light nothing is ever received, and nobody calls."""
    start = {name: value for name, value in AT_REST.items() if name != "light"}
    rules = PackBuilder([], watches=[beacon_watch(applies)])
    flight = ScriptedFlight(rules, start=start, calls_entered=False)
    flight.send_frame(0)
    flight.send_frame(5, heading=20.0)
    assert flight.finding_kinds == ["limit_exceeded b"]
    flight.send_frame(8, heading=5.0)
    assert [f.closed_s for f in flight.judge.findings] == [8]
    flight.send_frames(9, 100)
    assert len(notice_sentences(flight.events)) == 1
    flight.send_frame(101, heading=20.0)
    assert [f.closed_s for f in flight.judge.findings] == [None]


def test_a_watch_that_may_apply_keeps_its_finding_and_is_silent() -> None:
    """The heading is out of date: it may still be so, and may be over, so nobody is told it as a fact."""
    rules = PackBuilder([], watches=[beacon_watch(c.Or((above(HEADING, 10), on(LIGHT))))])
    flight = ScriptedFlight(rules)
    flight.send_frame(0)
    flight.send_frame(5, heading=20.0)
    heading = flight.values.pop("heading")
    flight.send_frames(6, 200)
    assert flight.judge.findings[0].closed_s is None
    assert len(notice_sentences(flight.events)) == 1
    flight.send_frame(201, heading=heading)
    flight.send_frames(202, 240)
    assert len(notice_sentences(flight.events)) == 2
    assert flight.judge.findings[0].closed_s is None


def test_it_is_not_repeated_while_what_it_expects_is_unknown() -> None:
    """The beacon itself is out of date: whether it is still off is not known."""
    flight = flight_with_watch(ALWAYS)
    assert len(notice_sentences(flight.events)) == 1
    del flight.values["beacon"]
    flight.send_frames(1, 100)
    assert len(notice_sentences(flight.events)) == 1
    assert flight.judge.findings[0].closed_s is None


def test_a_stale_part_that_comes_back_false_ends_it() -> None:
    """The condition stays unknown throughout, because of the light; the heading says that it is over."""
    start = {name: value for name, value in AT_REST.items() if name != "light"}
    rules = PackBuilder([], watches=[beacon_watch(c.Or((above(HEADING, 10), on(LIGHT))))])
    flight = ScriptedFlight(rules, start=start)
    flight.send_frame(0)
    flight.send_frame(5, heading=20.0)
    flight.values.pop("heading")
    flight.send_frames(6, 20)
    assert [f.closed_s for f in flight.judge.findings] == [None]
    flight.send_frame(21, heading=0.0)
    assert [f.closed_s for f in flight.judge.findings] == [21]
