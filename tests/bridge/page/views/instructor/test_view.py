"""Tests of bridge.page.views.instructor.view and device: sessions, seats, findings, items to excuse, several devices."""

from __future__ import annotations

from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice


def test_the_buttons_are_those_that_make_sense_now(flown: FlownDevice) -> None:
    """A running session can be paused, a paused one resumed, an ended one neither; a silenced one let speak."""

    def verbs() -> set[str]:
        return {verb for verb, _ in flown.shown("instructor").actions}

    assert {"pause", "mute", "end"} <= verbs()
    flown.ask("pause")
    flown.ask("mute")
    assert {"resume", "unmute", "end"} <= verbs()
    assert not {"pause", "mute"} & verbs()
    flown.ask("end")
    assert not {"pause", "resume", "end"} & verbs()
    assert "start_session" in verbs()


def test_seats_are_named_without_real_names(flown: FlownDevice) -> None:
    """Each seat has its field, who sits there stands in it, and real names are said not to be needed."""
    flown.ask("assign_seat", "captain", "instructor", "Crew 7")
    seen = flown.shown("instructor")
    assert "no real names needed" in seen.words
    assert "CaptainCrew 7" in seen.words
    assert "First officernobody named" in seen.words
    assert {("assign_seat", "captain"), ("assign_seat", "first_officer")} <= set(seen.actions)
    assert "Crew 7" in seen.attribute("value")


def test_past_sessions_say_who_when_and_how_much_was_found(flown: FlownDevice) -> None:
    """A session that is over stands with its times, its crew and its findings."""
    flown.ask("assign_seat", "captain", "instructor", "Crew 7")
    flown.wall.now_s += 3600
    flown.ask("start_session", "Second", "instructor")
    words = flown.shown("instructor").words
    assert words.startswith("Second running. Begun 17:00:00 UTC.")
    assert "1 past session Session 1 16:00:00 to 17:00:00 UTC; 0 found; Captain: Crew 7" in words


def test_items_of_the_gates_in_play_can_be_searched_and_excused(flown: FlownDevice) -> None:
    """Each item stands once, by radio button, with seat, gate and state; one form excuses the chosen one."""
    assert "Nothing has come from the simulator yet." in flown.shown("excusing").words
    flown.frame(0.0, {"lights.beacon": "off"})
    seen = flown.shown("excusing")
    values = seen.attribute("value")
    assert sorted(values) == sorted(set(values))
    assert "flow.before.beacon" in values
    assert "Beacon Captain, Push back, open" in seen.words
    assert "flow.taxi.light" not in values
    assert seen.attribute("data-search") == ["excuse-items"]
    assert "excuse-items" in seen.ids
    assert "excuse-items-none" in seen.ids


def test_findings_say_kind_seat_gate_and_whether_mended(flown: FlownDevice) -> None:
    """A finding stands with what it is and, once mended, when; the open ones are counted."""
    assert "Nothing yet." in flown.shown("findings").words
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 4):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    words = flown.shown("findings").words
    assert "caution, omitted beacon is off, needs on" in words
    assert "Captain: Beacon; Push back; open" in words
    opened = sum(one.closed_s is None for one in flown.device.journal.findings.values())
    assert f"Found so far {len(flown.device.journal.findings)}, {opened} open" in words
    for second in range(4, 8):
        flown.frame(second, push_approved=0.5)
    assert "mended 0:00:04" in flown.shown("findings").words


def test_calls_from_outside_are_the_instructors(flown: FlownDevice) -> None:
    """Ground, ATC and cabin can be entered there, and nothing of the crew's."""
    flown.frame(0.0)
    named = {name for _, name in flown.shown("entering").actions}
    assert named == {"push_approved", "clearance", "cabin_ready"}


def test_a_device_shows_what_an_instructor_looks_for_first(paged: Pack) -> None:
    """Its card says session, crew, phase, link, the gate that is cued and what is open."""
    flown = FlownDevice(paged, name="bay_1", title="Bay 1")
    assert "Waiting for the first frame" in flown.shown("device").words
    assert "nothing found" in flown.shown("device").words
    flown.ask("assign_seat", "captain", "instructor", "Crew 7")
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 4):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    seen = flown.shown("device")
    assert seen.words.startswith("Bay 1 At the stand 0:00:03 Session 1, running: Captain: Crew 7")
    assert "Push back, about to go: 3 open" in seen.words
    assert "1 caution 2 advisories open of 3 found" in seen.words
    assert {"/bay_1/", "/bay_1/instructor"} == set(seen.attribute("href"))
