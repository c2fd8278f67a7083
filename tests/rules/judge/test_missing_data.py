"""Missing data are doubt: what they could have shown is not verifiable, and never an error."""

from __future__ import annotations

import pytest

from rules.judge.events import DataMissing, ItemStatus, Verdict
from rules.language import checked_tree as c
from rules.packs.model import FindingKind, Level, QuietPeriod, Watch
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    LIGHT,
    MODE,
    PROBE,
    SPEED,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    item,
    notice_sentences,
    on,
    opened_findings,
    push,
    replace,
)

SWEPT = item(
    "aileron_check",
    c.Once(c.Sweep(c.SignalValue(HEADING, unit="deg"), c.Constant(-95.0, "deg"), c.Constant(95.0, "deg"))),
)
TEXT = "1.8 s of data missing"


def _gapped(flight: ScriptedFlight) -> None:
    """Lose the data from 1.2 s to 3 s."""
    flight.send_frame(0)
    flight.send_frame(1)
    flight.send_after_gap(3, missing_from_s=1.2)


def test_a_check_that_may_lie_in_the_gap_is_not_verifiable() -> None:
    """At the cue it gives an advisory with the reason, and not an error."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    _gapped(flight)
    flight.send_frame(4, ["ready"])
    flight.send_frame(6)
    (finding,) = flight.judge.findings
    assert (finding.kind, finding.level) == (FindingKind.NOT_VERIFIABLE, Level.ADVISORY)
    assert finding.sentence == TEXT
    assert notice_sentences(flight.events) == [f"Before push back, cannot verify aileron_check: {TEXT}."]


def test_without_the_gap_the_same_flight_has_an_error() -> None:
    """The check was omitted where every record arrived."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    flight.send_frame(0)
    flight.send_frame(4, ["ready"])
    flight.send_frame(6)
    assert flight.finding_kinds == ["omitted aileron_check"]


def test_at_the_entry_of_a_gate_it_is_not_verifiable_either() -> None:
    """Also an item that needs time, and that the gap has broken, is no error at the entry."""
    held = item("held", c.TimedHistorically(on(BEACON), 20.0))
    flight = ScriptedFlight(PackBuilder([SWEPT, held]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(25)
    flight.send_after_gap(28, missing_from_s=26.2)
    flight.send_frame(29, ["ready"])
    flight.send_frame(30, speed=3.0)
    assert flight.finding_kinds == ["not_verifiable aileron_check", "not_verifiable held"]


@pytest.mark.parametrize(("speed", "told"), [(0.0, True), (3.0, False)])
def test_a_doubt_that_a_quiet_period_held_back_is_not_called_open(speed: float, *, told: bool) -> None:
    """After the quiet period a doubt has its own notice while its gate is ahead, and none once the gate was passed."""
    light = item("light", on(LIGHT))
    quiet = QuietPeriod("probe", on(PROBE), (Level.ADVISORY, Level.CAUTION))
    flight = ScriptedFlight(PackBuilder([SWEPT, light], quiets=[quiet]))
    _gapped(flight)
    flight.send_frame(4, ["ready"], probe="on")
    flight.send_frame(6)
    flight.send_frame(7, speed=speed)
    flight.send_frame(8, probe="off")
    doubt = [f"Before push back, cannot verify aileron_check: {TEXT}."] if told else []
    assert notice_sentences(flight.events) == [*doubt, "Still open: light is off."]


def test_the_check_can_be_repeated_after_the_gap() -> None:
    """What is seen afterwards is met, and closes the doubt."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    _gapped(flight)
    flight.send_frame(4, ["ready"])
    flight.send_frame(6, heading=-100.0)
    flight.send_frame(7, heading=100.0)
    flight.send_frame(10)
    (finding,) = flight.judge.findings
    assert (finding.kind, finding.closed_s) == (FindingKind.NOT_VERIFIABLE, 7.0)


def test_what_was_seen_before_the_gap_stays_met() -> None:
    """A complete check and a present value are unaffected."""
    flight = ScriptedFlight(PackBuilder([SWEPT, item("beacon", on(BEACON))]))
    flight.send_frame(0, heading=-100.0, beacon="on")
    flight.send_frame(1, heading=100.0)
    events = flight.send_after_gap(3, missing_from_s=1.2)
    assert [type(event) for event in events] == [DataMissing]
    flight.send_frame(4, ["ready"])
    flight.send_frame(40, speed=3.0)
    assert flight.finding_kinds == []


def test_a_present_error_is_still_an_error() -> None:
    """A switch that is seen to be off after the gap was not seen to be on."""
    flight = ScriptedFlight(PackBuilder([item("beacon", on(BEACON))]))
    _gapped(flight)
    flight.send_frame(4, ["ready"])
    flight.send_frame(6)
    assert flight.finding_kinds == ["omitted beacon"]


def test_the_gap_is_an_event() -> None:
    """It has its length; a loss that is too short to hide anything has no event."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    _gapped(flight)
    (gap,) = events_of(flight.events, DataMissing)
    assert (gap.from_s, gap.sim_s, round(gap.missing_s, 6), gap.records) == (1.2, 3.0, 1.8, None)
    assert events_of(flight.send_after_gap(4, missing_from_s=3.8), DataMissing) == []
    assert flight.judge.snapshot().items[SWEPT.id].verdict is Verdict.UNKNOWN


def test_the_verdict_says_what_is_missing() -> None:
    """An open item is without data, neither open nor met, and its sentence follows every further gap."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    _gapped(flight)
    shown = flight.judge.snapshot().items[SWEPT.id]
    assert (shown.verdict, shown.status, shown.sentence) == (Verdict.UNKNOWN, ItemStatus.NO_DATA, TEXT)
    flight.send_after_gap(5, missing_from_s=4.0)
    assert flight.judge.snapshot().items[SWEPT.id].sentence == "2.8 s of data missing"


def test_an_error_that_was_found_before_keeps_its_evidence() -> None:
    """Whether it was corrected in the gap is unknown: its finding stays open, with the sentence that was seen."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4)
    flight.send_after_gap(40, missing_from_s=20.0)
    flight.send_frames(41, 130)
    assert flight.finding_kinds == ["omitted aileron_check"]
    assert len(set(notice_sentences(flight.events))) == 1
    assert flight.judge.findings[0].closed_s is None


def test_an_error_must_be_seen_for_its_whole_hold() -> None:
    """The hold of a limit and of an open need start again after a gap."""
    watch = Watch("w", "Light", "captain", Level.CAUTION, None, on(LIGHT), hold_s=5.0)
    need = replace(item("mode", c.WordIs(MODE, ("on",))), hold_s=5.0)
    flight = ScriptedFlight(PackBuilder([need], watches=[watch]))
    flight.send_frame(0, ["ready"])
    flight.send_frame(3)
    flight.send_after_gap(6, missing_from_s=3.5)
    assert opened_findings(flight.send_frames(7, 10)) == []
    assert {finding.item for finding in opened_findings(flight.send_frame(11))} == {"w", need.id}


def test_a_hold_that_was_over_before_the_gap_counts() -> None:
    """Data that are missing after an error was seen for its hold take nothing back."""
    watch = Watch("w", "Light", "captain", Level.CAUTION, None, on(LIGHT), hold_s=1.1)
    flight = ScriptedFlight(PackBuilder([], watches=[watch]))
    flight.send_frame(0)
    flight.send_frame(1)
    assert [finding.item for finding in opened_findings(flight.send_after_gap(3, missing_from_s=1.2))] == [
        "w"
    ]


def test_a_short_look_back_waits_until_the_gap_has_passed() -> None:
    """Before the entry there is time: a duration that the gap broke is no doubt while it can still be met."""
    held = item("held", c.TimedHistorically(on(BEACON), 10.0))
    flight = ScriptedFlight(PackBuilder([held]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(15)
    flight.send_after_gap(17.8, ["ready"], missing_from_s=16.0)
    flight.send_frames(18, 40)
    assert flight.finding_kinds == []
    assert notice_sentences(flight.events) == []


def test_a_gate_that_was_entered_in_the_gap() -> None:
    """Its needs may have been met at the entry: what is not met afterwards is a doubt, and stays one."""
    flight = ScriptedFlight(PackBuilder([item("beacon", on(BEACON)), item("probe", on(PROBE))]))
    flight.send_frame(0, probe="on")
    flight.send_frame(4, ["ready"])
    events = flight.send_after_gap(5.8, missing_from_s=4.0, speed=3.0)
    assert flight.finding_kinds == ["not_verifiable beacon"]
    assert opened_findings(events)[0].sentence == TEXT
    flight.send_frames(6, 130)
    assert flight.finding_kinds == ["not_verifiable beacon"]
    assert {sentence.rpartition(": ")[2] for sentence in notice_sentences(flight.events)} == {f"{TEXT}."}


def _slow_push() -> ScriptedFlight:
    """A push back that is known after 10 s of movement; the beacon was on, and goes off while it moves."""
    beacon = replace(item("beacon", on(BEACON)), hold_s=1.0)
    gate = replace(push([beacon.id]), entry=c.TimedHistorically(above(SPEED, 1), 10.0))
    flight = ScriptedFlight(PackBuilder([beacon], [gate]))
    flight.send_frame(0, beacon="on")
    flight.send_frame(4, ["ready"])
    flight.send_frame(5, speed=3.0)
    return flight


def test_a_gate_that_may_be_passed_has_no_errors() -> None:
    """Gaps keep the entry from being known while the flight is beyond it: what is changed there is a doubt."""
    flight = _slow_push()
    flight.send_frames(6, 12)
    flight.send_after_gap(14, missing_from_s=12.2)
    flight.send_frames(15, 16)
    flight.send_frame(17, beacon="off")  # 12 s after the begin: the gate may have been passed
    flight.send_frames(18, 22)
    flight.send_after_gap(23.8, missing_from_s=22.2)
    flight.send_frames(24, 33)
    assert flight.finding_kinds == []
    flight.send_frame(34)
    assert flight.finding_kinds == ["not_verifiable beacon"]


def test_a_gate_that_was_not_passed_after_all_has_its_errors() -> None:
    """Once it is known that the flight is not beyond it, an open need is an error."""
    flight = _slow_push()
    flight.send_frames(6, 12)
    flight.send_after_gap(14, missing_from_s=12.2)
    flight.send_frames(15, 16)
    flight.send_frame(17, beacon="off")
    flight.send_frames(18, 20)
    assert flight.finding_kinds == []
    flight.send_frame(21, speed=0.0)
    flight.send_frames(22, 24)
    assert flight.finding_kinds == ["undone beacon"]


def test_without_a_gap_the_gate_has_its_errors_at_once() -> None:
    """What is undone before the entry is an error after its hold."""
    flight = _slow_push()
    flight.send_frame(8, beacon="off")
    flight.send_frames(9, 10)
    assert flight.finding_kinds == ["undone beacon"]


def test_an_error_that_was_found_at_the_cue_is_carried_through_the_gap() -> None:
    """What was seen for its hold before the gap stays an error."""
    flight = ScriptedFlight(PackBuilder([item("beacon", on(BEACON))]))
    flight.send_frame(0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4)
    flight.send_after_gap(5.8, missing_from_s=4.2, speed=3.0)
    assert flight.finding_kinds == ["omitted beacon"]
    assert flight.judge.findings[0].carried


def test_an_action_in_the_gap_before_a_call_is_too_early() -> None:
    """A call is entered, not received: that it was not made is known, whatever data are missing."""
    early = replace(item("beacon", on(BEACON)), after=called("ground_clear"), hold_s=0.0)
    flight = ScriptedFlight(PackBuilder([early], gates=[push(())]))
    flight.send_frame(0)
    flight.send_after_gap(3, missing_from_s=1.0, beacon="on")
    flight.send_frame(4)
    assert flight.finding_kinds == ["too_early beacon"]


def test_an_action_in_the_gap_is_not_out_of_order() -> None:
    """Two items that are both met after the gap have no known order."""
    first, second = item("probe", on(PROBE)), item("beacon", on(BEACON))
    follows = replace(second, follows=(first.id,), hold_s=0.0)
    flight = ScriptedFlight(PackBuilder([first, follows], gates=[push(())]))
    flight.send_frame(0)
    flight.send_after_gap(3, missing_from_s=1.0, probe="on", beacon="on")
    flight.send_frames(4, 10)
    assert flight.finding_kinds == []


def test_an_order_that_the_gap_hides_is_no_error() -> None:
    """An item is not too early where its `after` may have happened in the gap."""
    after = c.Once(c.Rise(above(HEADING, 50)))
    early = replace(item("beacon", on(BEACON)), after=after, hold_s=0.0)
    for gap, expected in ((False, ["too_early beacon"]), (True, [])):
        flight = ScriptedFlight(PackBuilder([early], gates=[replace(push(()), cue=called("ready"))]))
        flight.send_frame(0)
        if gap:
            flight.send_after_gap(3, missing_from_s=1.0)
        flight.send_frame(4, beacon="on")
        flight.send_frames(5, 10)
        assert flight.finding_kinds == expected


def test_a_reset_forgets_the_gap() -> None:
    """After a jump of the clock everything is judged anew."""
    flight = ScriptedFlight(PackBuilder([SWEPT]))
    _gapped(flight)
    flight.reset_clock(0.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(4)
    assert flight.finding_kinds == ["omitted aileron_check"]
