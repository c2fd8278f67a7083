"""Tests of bridge.page.widgets.notices.notices: the list of recent notices, and the live region."""

from __future__ import annotations

from bridge.page.widgets.notices.notices import MAX_NOTICES, recent_notices
from rules.judge.events import Notice
from rules.packs.model import Level
from tests.bridge.page.page_builders import FlownDevice


def notice(number: int, level: Level = Level.CAUTION, finding: int = 0, repeats: int = 0) -> Notice:
    """Build a notice of the given second."""
    return Notice(
        float(number), level, "captain", "flow.before.beacon", "push", f"sentence {number}", repeats, finding
    )


def test_without_notices_there_is_a_message(flown: FlownDevice) -> None:
    """Before the first notice the panel shows a message, and the live region is empty."""
    assert "No notices yet." in flown.shown("notices").words
    assert flown.shown("live_region").words == ""


def test_the_newest_notices_come_first_up_to_a_maximum(flown: FlownDevice) -> None:
    """The panel shows the latest notices, newest first; older ones are in the timeline."""
    for number in range(MAX_NOTICES + 5):
        flown.device.journal(notice(number))
    seen = flown.shown("notices")
    assert seen.ids == ["notices", *(f"notice-{number}" for number in range(MAX_NOTICES + 5, 5, -1))]


def test_a_repeated_notice_appears_once_with_its_count(flown: FlownDevice) -> None:
    """A repeated notice does not displace others; it appears at its latest place."""
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 5):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    opened = next(iter(flown.device.journal.findings))
    flown.device.journal(notice(1, finding=99))
    flown.device.journal(notice(2, finding=opened, repeats=1))
    seen = flown.shown("notices")
    assert seen.words.count("2 times") == 1
    assert "sentence 1" in seen.words
    assert next(iter(recent_notices(flown.device)["notices"])).sentence == "sentence 2"  # type: ignore[call-overload]


def test_a_notice_of_a_closed_finding_is_marked(flown: FlownDevice) -> None:
    """A notice whose finding is closed is marked by a word, not only by its colour."""
    flown.device.journal(notice(3, Level.WARNING, finding=12))
    seen = flown.shown("notices")
    assert "warning, over" in seen.words
    assert seen.attribute("data-level") == ["past"]


def test_only_warnings_interrupt_the_screen_reader(flown: FlownDevice) -> None:
    """One region interrupts and one waits; the region of the newest notice has its text, the other is empty."""
    flown.device.journal(notice(1, Level.WARNING))
    seen = flown.shown("live_region")
    assert seen.attribute("aria-live") == ["assertive", "polite"]
    assert seen.words == "0:00:01 Warning, Captain: sentence 1"
    flown.device.journal(notice(2, Level.ADVISORY))
    assert flown.shown("live_region").words == "0:00:02 advisory, Captain: sentence 2"
