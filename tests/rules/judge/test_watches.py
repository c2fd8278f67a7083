"""Limits that must hold while something is so."""

from __future__ import annotations

from rules.judge.entries import Life, Verdict, VerdictChanged
from rules.packs.model import FindingKind, Level, Watch
from tests.rules.judge.making import (
    AT_REST,
    BEACON,
    HEADING,
    SPEED,
    Flight,
    Rules,
    above,
    on,
    only,
    opened,
    told,
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


def flown(watch: Watch, **values: str | float) -> Flight:
    """A flight with this watch, after its first frame."""
    flight = Flight(Rules([], watches=[watch]), start=AT_REST | values)
    flight.at(0)
    return flight


def test_opens_after_its_hold_and_closes_after_its_clear_time() -> None:
    """A watch that does not hold is found after its hold, and closed once it holds for its clear time."""
    flight = flown(MOVING)
    flight.at(5, heading=20.0)
    flight.at(6)
    assert flight.kinds == []
    finding = opened(flight.at(7))[0]
    assert (finding.kind, finding.item, finding.gate, finding.why) == (
        FindingKind.LIMIT_EXCEEDED,
        "beacon_moving",
        "",
        "it warns",
    )
    assert len(told(flight.entries)) == 1
    flight.at(10, beacon="on")
    flight.at(11)
    assert flight.core.findings[0].closed_s is None
    flight.at(12)
    finding = flight.core.findings[0]
    assert (finding.closed_s, finding.lead_s, finding.carried) == (10, None, False)


def test_what_does_not_apply_is_not_judged() -> None:
    """A watch that does not apply finds nothing; one that ceases to apply closes at once."""
    flight = flown(MOVING)
    flight.until(1, 20)
    assert flight.kinds == []
    flight.at(21, heading=20.0)
    flight.at(25)
    flight.at(30, heading=0.0)
    assert flight.core.findings[0].closed_s == 30


def test_what_stops_applying_and_applies_again_unmended_is_one_error() -> None:
    """A watch that went out of application and comes back, never having held, goes on with its finding."""
    flight = flown(MOVING)
    flight.at(5, heading=20.0)
    flight.at(8)
    flight.at(20, heading=0.0)
    assert [f.closed_s for f in flight.core.findings] == [20]
    flight.at(30, heading=20.0)
    flight.at(33)
    assert [f.closed_s for f in flight.core.findings] == [None]
    flight.at(40, beacon="on")
    flight.at(45, heading=0.0)
    flight.at(50, heading=20.0, beacon="off")
    flight.at(55)
    assert [f.closed_s for f in flight.core.findings] == [40, None]


def test_without_a_hold_it_opens_at_once() -> None:
    """A watch without a hold is found in the very step, also in the first."""
    flight = flown(ALWAYS, beacon="on")
    assert flight.kinds == []
    assert [f.level for f in opened(flight.at(3, beacon="off"))] == [Level.WARNING]
    assert len(flown(ALWAYS).core.findings) == 1


def test_flapping_within_hold_and_clear_gives_nothing() -> None:
    """A watch that fails for less than its hold is not found; one that holds for less than its clear stays open."""
    flight = flown(MOVING, beacon="on", heading=20.0)
    for second in range(1, 20):
        flight.at(float(second), beacon="off" if second % 2 else "on")
    assert flight.kinds == []
    flight.at(21, beacon="off")
    flight.at(25)
    flight.at(26, beacon="on")
    flight.at(27, beacon="off")
    flight.until(28, 33)
    assert len(flight.core.findings) == 1
    assert flight.core.findings[0].closed_s is None


def test_phases_restrict_it() -> None:
    """A watch of one phase applies there only, from the entry on, and closes when the phase is left."""
    only_pushing = Watch("p", "Beacon", "captain", Level.CAUTION, None, on(BEACON), phases=("pushing",))
    flight = Flight(Rules([], watches=[only_pushing]))
    flight.until(0, 5)
    assert flight.kinds == []
    flight.at(6, speed=3.0)
    assert [f.phase for f in flight.core.findings] == ["pushing"]
    flight.jump(1.0, speed=0.0, beacon="on")
    assert flight.core.picture().watches[0].standing == "does not apply"


def test_unknown_neither_opens_nor_closes() -> None:
    """A watch that cannot be told finds nothing, and does not close what it found."""
    flight = flown(ALWAYS, beacon="on")
    del flight.values["beacon"]
    flight.until(1, 9)
    assert flight.kinds == []
    flight.at(10, beacon="off")
    del flight.values["beacon"]
    flight.until(11, 20)
    assert [f.closed_s for f in flight.core.findings] == [None]
    said = only(flight.entries, VerdictChanged)
    assert [(e.verdict, e.life) for e in said] == [
        (Verdict.MET, Life.MET),
        (Verdict.UNKNOWN, Life.OPEN),
        (Verdict.UNMET, Life.OPEN),
        (Verdict.UNKNOWN, Life.OPEN),
    ]


def test_never_sent_is_no_data() -> None:
    """A watch whose signal never comes has no data."""
    start = {k: v for k, v in AT_REST.items() if k != "beacon"}
    flight = Flight(Rules([], watches=[ALWAYS]), start=start)
    flight.until(0, 9)
    assert flight.kinds == []
    assert [e.life for e in only(flight.entries, VerdictChanged)] == [Life.NO_DATA]


def test_the_kind_is_the_watchs() -> None:
    """A watch names the kind of its findings."""
    early = Watch(
        "e", "Roll", "captain", Level.CAUTION, above(SPEED, 10), on(BEACON), finding=FindingKind.TOO_EARLY
    )
    flight = flown(early)
    flight.at(2, speed=20.0)
    assert [f.kind for f in flight.core.findings] == [FindingKind.TOO_EARLY]
    assert told(flight.entries)[0].startswith("Too early: ")
