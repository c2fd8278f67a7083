"""Reminders: at the cue of a gate, one notice for each level of what is open beside its own needs."""

from __future__ import annotations

import pytest

from rules.judge.events import LeadIn, Notice
from rules.packs.model import Gate, Level, QuietPeriod, Watch
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    HEIGHT,
    LIGHT,
    MODE,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    go,
    item,
    on,
    push,
    replace,
)

BEACON_ON = item("beacon", on(BEACON))
PROBE_ON = item("probe", on(PROBE), level=Level.WARNING)
PUMP_ON = item("pump", on(PUMP))
LIGHT_ON = item("light", on(LIGHT))
LIGHT_WATCH = Watch("watch.w", "Light", "captain", Level.CAUTION, None, on(LIGHT), hold_s=1.0)
"""It has notices of its own at 1, 31 and 91 s."""
GATES = [push([BEACON_ON.id, PROBE_ON.id]), go([PUMP_ON.id])]


def _flight(
    *, quiets: tuple[QuietPeriod, ...] = (), beacon: str = "off", probe: str = "off"
) -> ScriptedFlight:
    """A flight that has passed the push back at 20 s with these open, and has its pump on."""
    rules = PackBuilder([BEACON_ON, PROBE_ON, PUMP_ON], gates=GATES, quiets=list(quiets))
    flight = ScriptedFlight(rules)
    flight.send_frame(0, pump="on", beacon=beacon, probe=probe)
    flight.send_frame(10, ["ready"])
    flight.send_frame(20, speed=3.0)
    return flight


def _reminders(flight: ScriptedFlight, from_s: float) -> list[Notice]:
    """Notices before the take-off."""
    return [n for n in events_of(flight.events, Notice) if n.sim_s >= from_s and n.gate == "go"]


def test_the_cue_of_a_later_gate_names_what_is_open_beside_its_needs() -> None:
    """Several findings of one level are one notice."""
    flight = ScriptedFlight(
        PackBuilder(
            [BEACON_ON, LIGHT_ON, PUMP_ON], gates=[push([BEACON_ON.id, LIGHT_ON.id]), go([PUMP_ON.id])]
        )
    )
    flight.send_frame(0, pump="on")
    flight.send_frame(10, ["ready"])
    flight.send_frame(20, speed=3.0)
    flight.send_frame(60, ["cleared"])
    (reminder,) = _reminders(flight, 60)
    assert reminder.sentence == "Before take-off, 2 still open: beacon is off; light is off."
    assert (reminder.level, reminder.seat, reminder.item, reminder.finding) == (
        Level.CAUTION,
        "captain",
        "",
        0,
    )
    assert reminder.lead_in is LeadIn.STILL_OPEN


def test_each_level_has_a_notice_of_its_own() -> None:
    """A warning does not raise a caution to its level; the most severe comes first."""
    flight = _flight()
    flight.send_frame(60, ["cleared"])
    assert [(n.level, n.item, n.sentence) for n in _reminders(flight, 60)] == [
        (Level.WARNING, PROBE_ON.id, "Before take-off, still open: probe is off."),
        (Level.CAUTION, BEACON_ON.id, "Before take-off, still open: beacon is off."),
    ]


def test_a_single_one_has_its_item_and_finding() -> None:
    """A reminder of one finding names it, so that screens can lead to it."""
    flight = _flight(probe="on")
    flight.send_frame(60, ["cleared"])
    (reminder,) = _reminders(flight, 60)
    assert reminder.sentence == "Before take-off, still open: beacon is off."
    assert (reminder.level, reminder.item, reminder.finding) == (Level.CAUTION, BEACON_ON.id, 1)


def test_it_is_given_once_for_each_gate() -> None:
    """Neither a longer cue nor another cue of the same gate repeats it."""
    cue = above(HEADING, 10)
    flight = ScriptedFlight(
        PackBuilder([BEACON_ON, PUMP_ON], gates=[push([BEACON_ON.id]), replace(go([PUMP_ON.id]), cue=cue)])
    )
    flight.send_frame(0, pump="on")
    flight.send_frame(10, ["ready"])
    flight.send_frame(20, speed=3.0)
    for at_s, heading in ((60, 20.0), (300, 0.0), (400, 20.0), (900, 20.0)):
        flight.send_frame(at_s, heading=heading)
    assert [n.sim_s for n in _reminders(flight, 0)] == [60]


@pytest.mark.parametrize(("cleared_s", "count"), [(39.0, 0), (49.0, 1)])
def test_what_was_told_just_now_is_not_told_again(cleared_s: float, count: int) -> None:
    """Within the first interval after its own notice a finding is not in a reminder."""
    flight = _flight(probe="on")
    flight.send_frame(cleared_s, ["cleared"])
    assert len(_reminders(flight, cleared_s)) == count


def test_what_is_met_again_or_an_advisory_is_not_named() -> None:
    """Corrected findings, advisories and doubts give no reminder, and a clear gate none."""
    flight = _flight(beacon="on", probe="on")
    flight.send_frame(60, ["cleared"])
    assert _reminders(flight, 0) == []
    advisory = replace(BEACON_ON, level=Level.ADVISORY)
    flight = ScriptedFlight(PackBuilder([advisory, PUMP_ON], gates=[push([advisory.id]), go([PUMP_ON.id])]))
    flight.send_frame(0, pump="on")
    flight.send_frame(10, ["ready"])
    flight.send_frame(20, speed=3.0)
    flight.send_frame(60, ["cleared"])
    assert _reminders(flight, 0) == []
    flight = _flight(probe="on")
    flight.send_frame(59.5, beacon="on")
    flight.send_frame(60, ["cleared"])
    assert _reminders(flight, 0) == []


def test_the_needs_of_the_gate_have_notices_of_their_own() -> None:
    """What the gate needs itself is told by its own rule, not twice."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[push([BEACON_ON.id]), go([BEACON_ON.id])]))
    flight.send_frame(0)
    flight.send_frame(10, ["ready"])
    flight.send_frame(20, speed=3.0)
    flight.send_frame(60, ["cleared"])
    flight.send_frame(65)
    assert [n.sentence for n in _reminders(flight, 60)] == ["Before take-off, still open: beacon is off."]


def _watched_flight(*gates: Gate, quiets: tuple[QuietPeriod, ...] = ()) -> ScriptedFlight:
    """A flight with a watch that never holds, and these gates."""
    rules = PackBuilder([PUMP_ON], gates=list(gates), watches=[LIGHT_WATCH], quiets=list(quiets))
    flight = ScriptedFlight(rules)
    flight.send_frame(0, pump="on")
    return flight


def test_a_watch_is_named_too() -> None:
    """A limit that is still exceeded is open beside the needs."""
    flight = _watched_flight(go([PUMP_ON.id]))
    flight.send_frame(75, ["cleared"])
    (reminder,) = _reminders(flight, 75)
    assert reminder.item == LIGHT_WATCH.id


@pytest.mark.parametrize(("cleared_s", "reminded"), [(90.0, True), (91.0, False), (120.5, False)])
def test_a_notice_of_its_own_in_the_same_step_or_just_before_is_enough(
    cleared_s: float, reminded: bool
) -> None:
    """The repeat of 91 s is not followed by a reminder of the same error."""
    flight = _watched_flight(go([PUMP_ON.id]))
    flight.send_frames(1, int(cleared_s) - 1)
    flight.send_frame(cleared_s, ["cleared"])
    assert bool(_reminders(flight, 0)) is reminded


def test_a_reminder_is_followed_by_no_notice_of_the_same_error_within_the_first_interval() -> None:
    """Neither the next gate reminds of it again, nor does its own repeat of 91 s come before 105 s."""
    soon = replace(go([PUMP_ON.id]), id="soon", title="Soon", cue=above(HEADING, 10))
    late = replace(go([PUMP_ON.id]), id="late", title="Late", cue=above(HEIGHT, 10))
    flight = _watched_flight(go([PUMP_ON.id]), soon, late)
    flight.send_frames(1, 74)
    flight.send_frame(75, ["cleared"])
    flight.send_frame(80, heading=20.0)
    flight.send_frames(81, 134)
    flight.send_frame(135, height=20.0)
    flight.send_frames(136, 230)
    assert [(n.sim_s, n.gate) for n in events_of(flight.events, Notice)] == [
        (1, ""),
        (31, ""),
        (75, "go"),
        (105, ""),
        (135, "late"),
        (225, ""),
    ]


BEACON_WATCH = Watch("watch.b", "Beacon", "captain", Level.WARNING, None, on(BEACON), hold_s=1.0)
"""It says what the item says, of which the push back has a notice at 12 s, and has its own at 1, 31, 91 and 211 s."""


@pytest.mark.parametrize(
    ("cleared_s", "levels"),
    [
        (70.0, [Level.WARNING]),  # one error under two rules, named once, at the higher level
        (100.0, []),  # told as a warning 9 s before
        (121.5, [Level.WARNING]),
    ],
)
def test_a_sentence_of_two_rules_is_told_once(cleared_s: float, levels: list[Level]) -> None:
    """A need of an earlier gate and a watch say the same: the reminder has it once, and not where it was told."""
    rules = PackBuilder(
        [BEACON_ON, PUMP_ON], gates=[push([BEACON_ON.id]), go([PUMP_ON.id])], watches=[BEACON_WATCH]
    )
    flight = ScriptedFlight(rules)
    flight.send_frame(0, pump="on")
    flight.send_frame(10, ["ready"])
    flight.send_frame(20, speed=3.0)
    flight.send_frames(21, int(cleared_s) - 1)
    flight.send_frame(cleared_s, ["cleared"])
    assert [n.level for n in _reminders(flight, 0)] == levels


def test_a_summary_has_a_sentence_of_two_rules_once() -> None:
    """At the higher level of the two."""
    quiet = QuietPeriod("q", above(HEADING, 10), (Level.CAUTION, Level.ADVISORY))
    advisories = [replace(each, level=Level.ADVISORY) for each in (BEACON_ON, LIGHT_ON)]
    watch = replace(BEACON_WATCH, level=Level.CAUTION)
    rules = PackBuilder(advisories, watches=[watch], quiets=[quiet])
    flight = ScriptedFlight(rules)
    flight.send_frame(0, heading=20.0)
    flight.send_frame(10, ["ready"])
    flight.send_frames(11, 19)
    flight.send_frame(20, heading=0.0)
    assert [(n.level, n.sentence) for n in events_of(flight.events, Notice)] == [
        (Level.CAUTION, "Still open: beacon is off."),
        (Level.ADVISORY, "Still open: light is off."),
    ]


def test_what_the_summary_of_a_quiet_period_names_is_not_in_a_reminder() -> None:
    """A quiet period that ends at the cue sums up what it held back; the reminder does not repeat it."""
    quiet = QuietPeriod("q", above(HEADING, 10), (Level.CAUTION,))
    flight = _watched_flight(go([PUMP_ON.id]), quiets=(quiet,))
    flight.send_frame(2, heading=20.0)
    flight.send_frames(3, 99)
    flight.send_frame(100, ["cleared"], heading=0.0)
    assert [(n.sim_s, n.lead_in) for n in events_of(flight.events, Notice)] == [
        (1, LeadIn.NONE),
        (100, LeadIn.SUMMARY),
    ]


def test_a_quiet_period_keeps_its_levels_out() -> None:
    """Only a warning is named while cautions are held back."""
    quiet = QuietPeriod("q", called("stop"), (Level.CAUTION, Level.ADVISORY))
    flight = _flight(quiets=(quiet,))
    flight.send_frame(55, ["stop"])
    flight.send_frame(60, ["cleared"])
    (reminder,) = _reminders(flight, 60)
    assert reminder.sentence == "Before take-off, still open: probe is off."


def test_a_gate_that_is_entered_without_a_cue_gives_none() -> None:
    """It is too late for "before"."""
    flight = _flight()
    flight.send_frame(60, speed=40.0, mode=MODE.words[0])
    assert _reminders(flight, 60) == []
