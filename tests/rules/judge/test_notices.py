"""Notices: when and how often they are given, and which are held back."""

from __future__ import annotations

import pytest

from rules.judge.events import FindingOpened, LeadIn, Notice
from rules.judge.repeat_state import REPEAT_INTERVALS_S
from rules.packs.model import FindingKind, Level, OwnSentences, QuietPeriod, Watch
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    HEIGHT,
    LIGHT,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    above,
    events_of,
    item,
    notice_sentences,
    on,
    push,
    replace,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
PROBE_ON = item("probe", on(PROBE), level=Level.WARNING)
ROLL = QuietPeriod("roll", above(HEADING, 10), (Level.ADVISORY, Level.CAUTION))


def notices(flight: ScriptedFlight) -> list[tuple[float, int]]:
    """Times of notices, and the number of earlier notices of the same finding."""
    return [(n.sim_s, n.repeats) for n in events_of(flight.events, Notice)]


def test_a_notice_carries_seat_level_item_and_finding() -> None:
    """A notice has the seat, the level, the item and the finding."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    notice = events_of(flight.events, Notice)[0]
    assert (notice.seat, notice.level, notice.item, notice.gate, notice.finding) == (
        "captain",
        Level.CAUTION,
        BEACON_ON.id,
        "push",
        1,
    )


def test_repeats_back_off() -> None:
    """The notice of an open item is repeated at growing intervals, the last of which is used again and again."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frames(2, 400)
    first, second, rest = REPEAT_INTERVALS_S
    times = [2.0, 2 + first, 2 + first + second, 2 + first + second + rest, 2 + first + second + 2 * rest]
    assert notices(flight) == [(time, count) for count, time in enumerate(times)]


def test_no_repeats_after_the_entry() -> None:
    """Once the gate is entered, a carried finding gives no further notice."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(10, speed=3.0)
    flight.send_frames(11, 200)
    assert notices(flight) == [(2.0, 0)]


def test_no_repeats_while_the_gate_waits() -> None:
    """Without its cue the gate gives no notices; when it is cued again, overdue ones are given."""
    gate = replace(push([BEACON_ON.id]), cue=on(LIGHT))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    flight.send_frame(1, light="on")
    flight.send_frame(5, light="off")
    flight.send_frame(100, light="on")
    flight.send_frame(101)
    assert notices(flight) == [(2.0, 0), (100.0, 1)]


def test_a_gate_cued_again_within_the_back_off_waits() -> None:
    """A cue that comes back soon gives no notice before the end of the interval."""
    gate = replace(push([BEACON_ON.id]), cue=on(LIGHT))
    flight = ScriptedFlight(PackBuilder([BEACON_ON], gates=[gate]))
    flight.send_frame(0)
    for second in range(1, 31):
        flight.send_frame(float(second), light="on" if second % 3 else "off")
    flight.send_frame(31, light="on")
    flight.send_frames(32, 40)
    assert notices(flight) == [(2.0, 0), (32.0, 1)]


def test_an_undone_item_gives_a_notice_at_once() -> None:
    """An item that was corrected and is undone gives a notice at once, also within the interval."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4, beacon="on")
    flight.send_frame(7, beacon="off")
    flight.send_frames(8, 20)
    assert notices(flight) == [(2.0, 0), (8.0, 0)]
    assert [n.lead_in for n in events_of(flight.events, Notice)] == [LeadIn.BEFORE_GATE, LeadIn.UNDONE]
    assert {n.reasons for n in events_of(flight.events, Notice)} == {("beacon is off",)}
    assert notice_sentences(flight.events)[1] == "Check again: beacon is off."


def test_a_finding_reopened_within_the_back_off_waits() -> None:
    """A watch that fails again soon opens a finding at once, and gives its notice at the end of the interval."""
    watch = Watch("w", "Beacon", "captain", Level.CAUTION, None, on(BEACON), clear_s=1.0)
    flight = ScriptedFlight(PackBuilder([], watches=[watch]))
    flight.send_frame(0)
    flight.send_frame(5, beacon="on")
    flight.send_frame(10, beacon="off")
    flight.send_frames(11, 29)
    assert [e.sim_s for e in events_of(flight.events, FindingOpened)] == [0, 10]
    assert notices(flight) == [(0, 0)]
    flight.send_frame(30)
    assert notices(flight) == [(0, 0), (30, 0)]


def test_most_severe_first() -> None:
    """The notices of one step come by severity, then by number."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON, PROBE_ON]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    assert [n.item.rpartition(".")[2] for n in events_of(flight.events, Notice)] == [
        "probe",
        "beacon",
        "pump",
    ]


def test_a_quiet_period_holds_back_cautions_and_ends_with_a_summary() -> None:
    """In a quiet period cautions are held back but recorded; afterwards one notice has all that are open."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frames(2, 9)
    assert flight.finding_kinds == ["omitted beacon", "omitted pump"]
    assert notice_sentences(flight.events) == []
    flight.send_frame(10, heading=0.0)
    assert len(notice_sentences(flight.events)) == 1
    assert notice_sentences(flight.events)[0].startswith("2 still open: ")
    notice = events_of(flight.events, Notice)[0]
    assert (notice.seat, notice.level, notice.item, notice.finding) == ("captain", Level.CAUTION, "", 0)
    assert notice.lead_in is LeadIn.SUMMARY
    assert notice.reasons == ("beacon is off", "pump is off")
    flight.send_frames(11, 41)
    assert [n.sim_s for n in events_of(flight.events, Notice)] == [10, 40, 40]


def test_the_summary_of_a_quiet_period_is_one_notice_for_each_level() -> None:
    """What is open has the level that it would have had without the quiet period."""
    advisory = item("light", on(LIGHT), level=Level.ADVISORY)
    flight = ScriptedFlight(PackBuilder([advisory, BEACON_ON, PUMP_ON], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frames(2, 9)
    flight.send_frame(10, heading=0.0)
    assert [(n.level, n.sentence) for n in events_of(flight.events, Notice)] == [
        (Level.CAUTION, "2 still open: beacon is off; pump is off."),
        (Level.ADVISORY, "Still open: light is off."),
    ]


def test_findings_corrected_in_a_quiet_period_are_not_reported() -> None:
    """The summary leaves out corrected findings; a single open one has its own notice."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(5, beacon="on")
    flight.send_frame(10, heading=0.0)
    notice = events_of(flight.events, Notice)[0]
    assert (notice.item, notice.finding) == (PUMP_ON.id, 2)
    assert notice.sentence.startswith("Still open: pump")


def test_a_quiet_period_without_open_findings_has_no_summary() -> None:
    """A quiet period without open findings ends without a notice."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(5, beacon="on")
    flight.send_frame(10, heading=0.0)
    assert notice_sentences(flight.events) == []


def test_a_warning_is_never_held_by_a_quiet_for_less() -> None:
    """A quiet period of advisories and cautions does not hold back a warning."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PROBE_ON], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    assert [n.level for n in events_of(flight.events, Notice)] == [Level.WARNING]


def test_repeated_notices_are_held_in_a_quiet_period() -> None:
    """Notices are not repeated in a quiet period, but summed up at its end."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], quiets=[ROLL]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(10, heading=20.0)
    flight.send_frames(11, 60)
    assert notices(flight) == [(2.0, 0)]
    flight.send_frame(61, heading=0.0)
    assert [n.sim_s for n in events_of(flight.events, Notice)] == [2.0, 61]


def test_a_quiet_period_continues_when_its_signal_is_lost() -> None:
    """A quiet period with a stale signal continues; one that was never known does not begin."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    del flight.values["heading"]
    flight.send_frames(1, 9)
    flight.send_frame(10, ["ready"])
    flight.send_frame(11)
    assert notice_sentences(flight.events) == []
    assert flight.judge.snapshot().quiet
    start = {k: v for k, v in AT_REST.items() if k != "heading"}
    flight = ScriptedFlight(PackBuilder([BEACON_ON], quiets=[ROLL]), start=start)
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    assert len(notice_sentences(flight.events)) == 1


def test_overlapping_quiets_release_level_by_level() -> None:
    """When one of two quiet periods ends, only the levels that the other does not hold are released."""
    advisory = item("light", on(LIGHT), level=Level.ADVISORY)
    low = QuietPeriod("low", above(HEIGHT, 10), (Level.ADVISORY,))
    flight = ScriptedFlight(PackBuilder([BEACON_ON, advisory], quiets=[ROLL, low]))
    flight.send_frame(0, heading=20.0, height=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3, heading=0.0)
    assert [n.item for n in events_of(flight.events, Notice)] == [BEACON_ON.id]
    flight.send_frame(4, height=0.0)
    assert [n.item for n in events_of(flight.events, Notice)] == [BEACON_ON.id, advisory.id]


def test_a_quiet_period_holds_back_a_warning_by_the_name_of_its_watch() -> None:
    """A watch that is named waits for the end of the quiet period, whatever its level; other warnings speak."""
    quiet = replace(ROLL, watches=frozenset({"watch.wait"}))
    watches = [
        Watch(f"watch.{name}", name, "captain", Level.WARNING, None, on(signal), finding=FindingKind.OMITTED)
        for name, signal in (("wait", BEACON), ("speak", PROBE))
    ]
    flight = ScriptedFlight(PackBuilder([], watches=watches, quiets=[quiet]))
    flight.send_frame(0, heading=20.0, beacon="on", probe="on")
    flight.send_frame(1, beacon="off", probe="off")
    flight.send_frame(3)
    assert [n.item for n in events_of(flight.events, Notice)] == ["watch.speak"]
    flight.send_frame(4, heading=0.0)
    assert [n.item for n in events_of(flight.events, Notice)] == ["watch.speak", "watch.wait"]


def test_every_notice_has_its_finding_on_the_record_before_it() -> None:
    """The finding of a notice was opened earlier in the events."""
    flight = ScriptedFlight(PackBuilder([BEACON_ON, PUMP_ON, PROBE_ON]))
    flight.send_frame(0)
    flight.send_frame(1, speed=3.0)
    seen: set[int] = set()
    for entry in flight.events:
        if isinstance(entry, FindingOpened):
            seen.add(entry.finding.number)
        if isinstance(entry, Notice):
            assert entry.finding in seen
    assert seen == {1, 2, 3}


def test_a_repeated_notice_has_the_present_values() -> None:
    """A repeated notice has the present values, while the finding keeps its evidence."""
    either = replace(item("speed", above(HEADING, 10)), finding=FindingKind.OMITTED)
    flight = ScriptedFlight(PackBuilder([either]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(10, heading=5.0)
    flight.send_frames(11, 32)
    first, repeated = notice_sentences(flight.events)
    assert "5" in repeated
    assert first != repeated
    assert flight.judge.findings[0].sentence in first


SAY = OwnSentences("lamp out", "lamp good")
LAMP = Watch("watch.lamp", "Lamp", "captain", Level.CAUTION, None, on(LIGHT), say=SAY)


def test_an_event_of_the_aeroplane_warns_a_seat_and_is_booked_to_none() -> None:
    """The notice is for the watch's seat; the finding has the owner aeroplane, so that no person gets it."""
    event = replace(LAMP, finding=FindingKind.AEROPLANE_EVENT)
    flight = ScriptedFlight(PackBuilder([], watches=[event]))
    flight.send_frame(0)
    (notice,) = events_of(flight.events, Notice)
    (finding,) = flight.judge.findings
    assert (notice.seat, notice.sentence) == ("captain", "Lamp out.")
    assert (finding.seat, finding.kind) == ("aeroplane", FindingKind.AEROPLANE_EVENT)


@pytest.mark.parametrize(
    ("level", "repeats", "times_s"),
    [(Level.WARNING, True, [0.0, 30.0]), (Level.WARNING, False, [0.0]), (Level.CAUTION, True, [0.0])],
)
def test_an_event_of_the_aeroplane_is_repeated_seldom(
    level: Level, repeats: bool, times_s: list[float]
) -> None:
    """A warning of a failure comes once again after 30 s; a caution, and what has a long drill, come once."""
    event = replace(LAMP, finding=FindingKind.AEROPLANE_EVENT, level=level, repeats=repeats)
    flight = ScriptedFlight(PackBuilder([], watches=[event]))
    flight.send_frames(0, 640)
    assert [at_s for at_s, _ in notices(flight)] == times_s


def test_a_warning_that_comes_a_third_time_is_told_again() -> None:
    """The limit counts the notices of one finding, not those of all: a later alert is new to the crew."""
    event = replace(LAMP, finding=FindingKind.AEROPLANE_EVENT, level=Level.WARNING, clear_s=1.0)
    flight = ScriptedFlight(PackBuilder([], watches=[event]))
    for begins_s in (0, 400, 800):
        flight.send_frame(begins_s, light="off")
        flight.send_frame(begins_s + 10, light="on")
    assert [at_s for at_s, _ in notices(flight)] == [0.0, 400.0, 800.0]


def test_a_failure_that_comes_back_is_told_again() -> None:
    """A caution of a failure that ended is told again when the failure comes back."""
    event = replace(LAMP, finding=FindingKind.AEROPLANE_EVENT, clear_s=1.0)
    flight = ScriptedFlight(PackBuilder([], watches=[event]))
    flight.send_frame(0)
    flight.send_frame(40, light="on")
    flight.send_frame(50)
    flight.send_frame(60, light="off")
    assert [at_s for at_s, _ in notices(flight)] == [0.0, 60.0]


def test_an_owner_does_it_and_a_seat_is_warned() -> None:
    """A rule with an owner warns its seat, and its error is booked to the owner: of a watch and of an item."""
    owned = replace(BEACON_ON, owner="ground")
    flight = ScriptedFlight(PackBuilder([owned], watches=[replace(LAMP, owner="cabin")]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(3)
    assert {n.seat for n in events_of(flight.events, Notice)} == {"captain"}
    assert {f.item: f.seat for f in flight.judge.findings} == {LAMP.id: "cabin", BEACON_ON.id: "ground"}


@pytest.mark.parametrize("say", [SAY, OwnSentences()])
@pytest.mark.parametrize("again", [False, True])
def test_a_repeat_waits_while_a_watch_holds_again(say: OwnSentences, again: bool) -> None:
    """What holds again within its clear time gives no notice; the repeat comes after that time, if it fails again."""
    flight = ScriptedFlight(PackBuilder([], watches=[replace(LAMP, say=say)]))
    flight.send_frame(0)
    flight.send_frame(29.5, light="on")
    flight.send_frame(30)
    flight.send_frame(30.5, light="off" if again else "on")
    flight.send_frames(31, 70)
    assert notices(flight) == ([(0.0, 0), (32.0, 1)] if again else [(0.0, 0)])
    assert len(set(notice_sentences(flight.events))) == 1
    (finding,) = flight.judge.findings
    assert finding.closed_s == (None if again else 29.5)


@pytest.mark.parametrize("again", [False, True])
def test_a_repeat_waits_while_an_item_is_met_again(again: bool) -> None:
    """The same for the need of a gate."""
    flight = ScriptedFlight(PackBuilder([replace(BEACON_ON, clear_s=3.0)]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(2)
    flight.send_frame(31, beacon="on")
    flight.send_frame(32)
    flight.send_frame(33, beacon="off" if again else "on")
    flight.send_frames(34, 60)
    assert notices(flight) == ([(2.0, 0), (35.0, 1)] if again else [(2.0, 0)])


@pytest.mark.parametrize("again", [False, True])
def test_a_summary_leaves_out_what_is_met_again(again: bool) -> None:
    """At the end of a quiet period what is met again, within its clear time, is not still open."""
    flight = ScriptedFlight(PackBuilder([PUMP_ON], watches=[LAMP], quiets=[ROLL]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(8, light="on")
    flight.send_frame(9, heading=0.0)
    flight.send_frame(9.5, light="off" if again else "on")
    flight.send_frames(10, 20)
    sentences = ["Still open: pump is off.", *(["Lamp out."] if again else [])]
    assert notice_sentences(flight.events) == sentences
