"""Tests of bridge.page.views.instructor.view and of the card of a device."""

from __future__ import annotations

from rules.packs.model import Pack
from tests.bridge.page.page_builders import FlownDevice


def test_buttons_follow_the_state_of_the_session(flown: FlownDevice) -> None:
    """A running session can be paused, a paused one resumed, an ended one neither; a muted one can be unmuted."""

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


def test_seats_need_no_real_names(flown: FlownDevice) -> None:
    """Each seat has a field with its person, and a note that real names are not needed."""
    flown.ask("assign_seat", "captain", "instructor", "Crew 7")
    seen = flown.shown("instructor")
    assert "real names are not needed" in seen.words
    assert "CaptainCrew 7" in seen.words
    assert "First officernot set" in seen.words
    assert {("assign_seat", "captain"), ("assign_seat", "first_officer")} <= set(seen.actions)
    assert "Crew 7" in seen.attribute("value")


def test_past_sessions_show_times_crew_and_findings(flown: FlownDevice) -> None:
    """A past session is listed with its times, crew and number of findings."""
    flown.ask("assign_seat", "captain", "instructor", "Crew 7")
    flown.wall.now_s += 3600
    flown.ask("start_session", "Second", "instructor")
    words = flown.shown("instructor").words
    assert words.startswith("Second running. Began 17:00:00 UTC.")
    assert "1 past session Session 1 16:00:00 to 17:00:00 UTC; 0 findings; Captain: Crew 7" in words


def test_items_of_active_gates_can_be_searched_and_waived(flown: FlownDevice) -> None:
    """Each item is a radio button with seat, gate and status; one form waives the chosen one."""
    assert "No data from the simulator yet." in flown.shown("waivers").words
    flown.frame(0.0, {"lights.beacon": "off"})
    seen = flown.shown("waivers")
    values = seen.attribute("value")
    assert sorted(values) == sorted(set(values))
    assert "flow.before.beacon" in values
    assert "Beacon Captain, Push back, open" in seen.words
    assert "flow.taxi.light" not in values
    assert seen.attribute("data-search") == ["waive-items"]
    assert "waive-items" in seen.ids
    assert "waive-items-none" in seen.ids


def test_waived_items_are_listed_with_their_undo(flown: FlownDevice) -> None:
    """Each waived item has who, why and when; what was waived by request can be undone with a second touch."""
    for second in range(4):
        flown.frame(second, {"lights.beacon": "off"})
    flown.ask("waive", "flow.before.beacon", "first_officer", "lamp failed")
    seen = flown.shown("instructor")
    assert "Beacon Captain, lamp failed (First officer), since 0:00:03" in seen.words
    assert "dispatched inoperative (trip sheet), since 0:00:00" in seen.words
    undo = [(verb, name) for verb, name in seen.actions if verb == "undo_waiver"]
    assert undo == [("undo_waiver", "flow.before.beacon")]
    assert "undo-waiver-flow.before.beacon" in seen.ids
    assert "flow.before.beacon" not in flown.shown("waivers").attribute("value")
    assert flown.ask("undo_waiver", "flow.before.beacon", "instructor").accepted
    assert "lamp failed" not in flown.shown("instructor").words
    assert "flow.before.beacon" in flown.shown("waivers").attribute("value")


def test_a_waiver_before_the_first_frame_has_no_time(flown: FlownDevice) -> None:
    """Before the first frame a waiver is listed without a time; after the end of a session it cannot be undone."""
    flown.ask("waive", "flow.before.beacon", "instructor", "lamp failed")
    seen = flown.shown("instructor")
    assert "Beacon Captain, lamp failed (instructor) Undo" in seen.words
    flown.ask("end")
    assert "undo_waiver" not in {verb for verb, _ in flown.shown("instructor").actions}


def test_a_finding_that_a_waiver_closed_is_not_corrected(flown: FlownDevice) -> None:
    """The list of findings says waived, not corrected."""
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 4):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    flown.ask("waive", "flow.before.beacon", "instructor", "lamp failed")
    words = flown.shown("findings").words
    assert "waived 0:00:03" in words
    assert "corrected" not in words


def test_findings_show_kind_seat_gate_and_correction(flown: FlownDevice) -> None:
    """A finding shows its kind and, once corrected, the time; the open ones are counted."""
    assert "No findings yet." in flown.shown("findings").words
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 4):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    words = flown.shown("findings").words
    assert "caution, omitted beacon is off" in words
    assert "Captain: Beacon; Push back; open" in words
    opened = sum(one.closed_s is None for one in flown.device.journal.findings.values())
    assert f"Findings {len(flown.device.journal.findings)}, {opened} open" in words
    for second in range(4, 8):
        flown.frame(second, push_approved=0.5)
    assert "corrected 0:00:04" in flown.shown("findings").words


def test_the_instructor_enters_calls_from_outside(flown: FlownDevice) -> None:
    """Calls of ground, ATC and cabin can be entered here, but not those of the crew."""
    flown.frame(0.0)
    named = {name for _, name in flown.shown("outside_calls").actions}
    assert named == {"push_approved", "clearance", "cabin_ready"}


def test_a_device_card_shows_the_state_of_its_session(paged: Pack) -> None:
    """The card shows session, crew, phase, link, cued gates and open findings."""
    flown = FlownDevice(paged, name="bay_1", title="Bay 1")
    assert "Waiting for the first frame" in flown.shown("device").words
    assert "no findings" in flown.shown("device").words
    flown.ask("assign_seat", "captain", "instructor", "Crew 7")
    flown.frame(0.0, {"lights.beacon": "off"})
    for second in range(1, 4):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=0.5)
    seen = flown.shown("device")
    assert seen.words.startswith("Bay 1 At the stand 0:00:03 Session 1, running: Captain: Crew 7")
    assert "Push back, about to begin: 2 open, 3 of 5 judged" in seen.words
    assert "1 caution 1 advisory open of 2 findings" in seen.words
    assert {"/bay_1/", "/bay_1/instructor"} == set(seen.attribute("href"))


def test_a_device_card_counts_doubts_apart(paged: Pack) -> None:
    """What is not verifiable is no open error: the card counts it after these, without a level."""
    flown = FlownDevice(paged)
    flown.pass_with_a_doubt()
    seen = flown.shown("device")
    assert "no findings, 1 not verifiable" in seen.words
    assert seen.attribute("data-level") == []
