"""Tests of bridge.page.widgets.notices.notices: notices newest first, each finding once, and what is read out."""

from __future__ import annotations

from bridge.page.widgets.notices.notices import MAX_NOTICES, recent_notices, watch_violations
from rules.judge.events import Notice
from rules.packs.model import Level
from tests.bridge.page.page_builders import FlownDevice


def notice(number: int, level: Level = Level.CAUTION, finding: int = 0, repeats: int = 0) -> Notice:
    """A notice of the given second."""
    return Notice(
        float(number), level, "captain", "flow.before.beacon", "push", f"sentence {number}", repeats, finding
    )


def test_nothing_told_is_said(flown: FlownDevice) -> None:
    """Before the first notice the panel says that there was none, and nothing is read out."""
    assert "Nothing was told yet." in flown.shown("told").words
    assert flown.shown("aloud").words == ""


def test_the_newest_comes_first_and_only_so_many(flown: FlownDevice) -> None:
    """The latest notices stand, newest first; older ones are left to the timeline."""
    for number in range(MAX_NOTICES + 5):
        flown.device.journal(notice(number))
    seen = flown.shown("told")
    assert seen.ids == ["told", *(f"told-{number}" for number in range(MAX_NOTICES + 5, 5, -1))]


def test_one_finding_stands_once_with_how_often_it_was_told(flown: FlownDevice) -> None:
    """A notice that is repeated does not push others out; it stands where it was told last."""
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 5):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    opened = next(iter(flown.device.journal.findings))
    flown.device.journal(notice(1, finding=99))
    flown.device.journal(notice(2, finding=opened, repeats=1))
    seen = flown.shown("told")
    assert seen.words.count("told 2 times") == 1
    assert "sentence 1" in seen.words
    assert next(iter(recent_notices(flown.device)["told"])).sentence == "sentence 2"  # type: ignore[call-overload]


def test_a_mended_finding_is_over(flown: FlownDevice) -> None:
    """A notice whose finding is closed is told from one that is open by a word, not by its colour alone."""
    flown.device.journal(notice(3, Level.WARNING, finding=12))
    seen = flown.shown("told")
    assert "warning, over" in seen.words
    assert seen.attribute("data-level") == ["past"]


def test_a_warning_is_read_out_at_once_and_anything_else_in_its_turn(flown: FlownDevice) -> None:
    """One region interrupts and one waits; each holds the newest notice of its kind, and the other is empty."""
    flown.device.journal(notice(1, Level.WARNING))
    seen = flown.shown("aloud")
    assert seen.attribute("aria-live") == ["assertive", "polite"]
    assert seen.words == "0:00:01 Warning, Captain: sentence 1"
    flown.device.journal(notice(2, Level.ADVISORY))
    assert flown.shown("aloud").words == "0:00:02 advisory, Captain: sentence 2"


def test_what_does_not_hold_is_wrong_now(flown: FlownDevice) -> None:
    """A watch is wrong while it applies and does not hold; not where it cannot be told."""
    flown.frame(0.0, {"engine.1.n2": 60.0})
    assert watch_violations(flown.device) == []
    flown.frame(1.0, {"engine.1.n2": 60.0, "engine.1.oil_pressure": 5.0})
    assert [(one.level, one.seat, one.label) for one in watch_violations(flown.device)] == [
        (Level.WARNING, "Captain", "Oil pressure")
    ]
    flown.frame(2.0, {"engine.1.n2": 60.0, "engine.1.oil_pressure": 40.0})
    assert watch_violations(flown.device) == []
