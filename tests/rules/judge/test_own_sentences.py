"""Sentences of a pack's own: the crew gets them, and the record keeps the general form beside them."""

from __future__ import annotations

import pytest

from rules.judge.events import LeadIn, Notice, Verdict, VerdictChanged
from rules.judge.snapshot import ItemSnapshot
from rules.packs.model import FindingKind, Level, OwnSentences, QuietPeriod, Watch
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    changed_findings,
    events_of,
    item,
    notice_sentences,
    on,
    opened_findings,
    replace,
)

DARK = OwnSentences("beacon still dark at {heading}", "beacon flashing at {heading}")
BEACON_ON = replace(item("beacon", on(BEACON)), say=DARK)
WATCH = Watch("watch.beacon", "Anti-collision", "captain", Level.CAUTION, None, on(BEACON), say=DARK)


def cued(*items: object, **values: object) -> ScriptedFlight:
    """A flight whose gate is cued."""
    flight = ScriptedFlight(PackBuilder([*items]))  # type: ignore[list-item]  # items
    flight.send_frame(0, **values)  # type: ignore[arg-type]  # values of signals
    flight.send_frame(1, ["ready"])
    return flight


def seen(flight: ScriptedFlight, name: str = BEACON_ON.id) -> ItemSnapshot:
    """An item as screens show it."""
    return flight.judge.snapshot().items[name]


def test_a_notice_has_the_own_sentence_by_the_present_values() -> None:
    """Notice and its repetition have the pack's sentence, filled in at that time."""
    flight = cued(BEACON_ON)
    flight.send_frame(2)
    flight.send_frame(32, heading=90.0)
    assert notice_sentences(flight.events) == [
        "Before push back: beacon still dark at 0 deg.",
        "Before push back: beacon still dark at 90 deg.",
    ]
    notice = events_of(flight.events, Notice)[0]
    assert (notice.lead_in, notice.reasons) == (LeadIn.BEFORE_GATE, ("beacon still dark at 0 deg",))


def test_the_record_keeps_the_general_form() -> None:
    """Finding and verdict have the general sentence, actual and wanted, and beside them the pack's own."""
    flight = cued(BEACON_ON)
    (finding,) = opened_findings(flight.send_frame(2))
    assert (finding.kind, finding.actual, finding.wanted) == (FindingKind.OMITTED, "off", "on")
    assert (finding.sentence, finding.own_sentence) == (
        "beacon is off",
        "beacon still dark at 0 deg",
    )
    flight.send_frame(4, heading=90.0, beacon="on")
    flight.send_frame(6)
    closed = changed_findings(flight.events)[-1]
    assert closed.closed_s == 4
    assert closed.own_sentence == "beacon still dark at 0 deg"
    verdicts = [(v.verdict, v.own_sentence) for v in events_of(flight.events, VerdictChanged)]
    assert verdicts == [
        (Verdict.UNMET, "beacon still dark at 0 deg"),
        (Verdict.MET, "beacon flashing at 90 deg"),
    ]


def test_screens_have_the_sentence_of_the_present_truth() -> None:
    """An open item and a met item have their own sentences, and follow the signals in them."""
    flight = cued(BEACON_ON)
    assert (seen(flight).sentence, seen(flight).actual, seen(flight).wanted) == (
        "beacon still dark at 0 deg", "off", "on",
    )  # fmt: skip
    flight.send_frame(2, heading=45.0)
    assert seen(flight).sentence == "beacon still dark at 45 deg"
    flight.send_frame(3, beacon="on")
    assert seen(flight).sentence == "beacon flashing at 45 deg"
    flight.send_frame(4, heading=50.0)
    assert seen(flight).sentence == "beacon flashing at 50 deg"


def test_what_is_not_known_has_the_general_form() -> None:
    """An unknown item, and a sentence one of whose signals has no fresh value, have the general form."""
    flight = cued(BEACON_ON)
    del flight.values["heading"]
    flight.send_frame(20)
    assert seen(flight).sentence == "beacon is off"
    del flight.values["beacon"]
    flight.values["heading"] = 30.0
    flight.send_frame(40)
    assert seen(flight).verdict is Verdict.UNKNOWN
    assert "dark" not in seen(flight).sentence


def test_a_sentence_gives_the_values_of_several_signals() -> None:
    """A placeholder of several signals gives each different value once, and only while all are fresh."""
    say = OwnSentences("lights {*} at {heading}", shown={"*": ("beacon", "pump"), "heading": ("heading",)})
    flight = cued(replace(BEACON_ON, say=say))
    assert seen(flight).sentence == "lights off at 0 deg"
    flight.send_frame(2, pump="on")
    assert seen(flight).sentence == "lights off and on at 0 deg"
    del flight.values["pump"]
    flight.send_frame(20)
    assert seen(flight).sentence == "beacon is off"


def test_a_met_sentence_alone_changes_no_open_one() -> None:
    """Where only `met` is given, an open item has the general form."""
    flight = cued(replace(BEACON_ON, say=OwnSentences(met="beacon flashing")))
    flight.send_frame(2)
    assert notice_sentences(flight.events) == ["Before push back: beacon is off."]
    flight.send_frame(3, beacon="on")
    assert seen(flight).sentence == "beacon flashing"


def test_an_action_against_the_order_has_the_general_form() -> None:
    """The own sentence speaks of the item's state, not of when it was done."""
    pump = replace(
        item("pump", on(PUMP)), after=called("ground_clear"), say=OwnSentences("pump off", "pump on")
    )
    flight = ScriptedFlight(PackBuilder([pump]))
    flight.send_frame(0)
    flight.send_frame(1, pump="on")
    flight.send_frame(3)
    (finding,) = flight.judge.findings
    assert (finding.kind, finding.own_sentence) == (FindingKind.TOO_EARLY, "")
    assert notice_sentences(flight.events) == ["Too early: pump before ground clear."]
    assert flight.judge.snapshot().sentence_of(finding) == "pump before ground clear"


@pytest.mark.parametrize(
    ("say", "text"),
    [
        (OwnSentences(), "Anti-collision: beacon is off."),
        (DARK, "Beacon still dark at 0 deg."),
    ],
)
def test_the_sentence_of_a_watch_stands_for_itself(say: OwnSentences, text: str) -> None:
    """A watch's own sentence has no label before it."""
    flight = ScriptedFlight(PackBuilder([], watches=[replace(WATCH, say=say)]))
    flight.send_frame(0)
    assert notice_sentences(flight.events) == [text]
    (finding,) = flight.judge.findings
    assert finding.sentence == "beacon is off"


def test_a_watch_that_holds_has_its_own_sentence() -> None:
    """The snapshot of a watch that holds has its `met`."""
    flight = ScriptedFlight(PackBuilder([], watches=[WATCH]))
    flight.send_frame(0, beacon="on")
    assert flight.judge.snapshot().watches[WATCH.id].sentence == "beacon flashing at 0 deg"


def test_the_summary_of_a_quiet_period_has_own_sentences() -> None:
    """The notice after a quiet period has the own sentence of each item that has one."""
    roll = QuietPeriod("roll", above(HEADING, 10), (Level.CAUTION,))
    flight = ScriptedFlight(PackBuilder([BEACON_ON, item("pump", on(PUMP))], quiets=[roll]))
    flight.send_frame(0, heading=20.0)
    flight.send_frame(1, ["ready"])
    flight.send_frame(9, heading=0.0)
    assert notice_sentences(flight.events) == ["2 still open: beacon still dark at 0 deg; pump is off."]
