"""Tests of bridge.page.views.calls.view: who says them, what is waited for, times, and the time to take one back."""

from __future__ import annotations

from bridge.page.views.calls.view import awaited_calls, call_groups, calls
from bridge.session.call_register import UNDO_WINDOW_S
from tests.bridge.page.page_builders import FlownDevice


def test_calls_stand_in_groups_with_one_touch_each(flown: FlownDevice) -> None:
    """Ground, ATC, cabin and crew have their own groups; a call that was not made is one button."""
    flown.frame(0.0)
    groups = {group.title: [call.id for call in group.calls] for group in calls(flown.device)["groups"]}  # type: ignore[attr-defined]
    assert groups == {
        "Ground": ["push_approved"],
        "ATC": ["clearance"],
        "Cabin": ["cabin_ready"],
        "Captain": ["briefing"],
    }
    assert flown.shown("calls").actions.count(("call", "cabin_ready")) == 1


def test_what_the_next_gates_wait_for_comes_first(flown: FlownDevice) -> None:
    """Calls of the next gate's cue and of its open needs stand on top, with its title."""
    flown.frame(0.0)
    assert awaited_calls(flown.device) == {"push_approved": "Push back", "clearance": "Push back"}
    assert flown.shown("calls").words.startswith(
        "Waited for push approved Push back waits for it departure clearance"
    )


def test_a_call_is_stamped_with_both_clocks_and_can_be_taken_back_for_ten_seconds(flown: FlownDevice) -> None:
    """It stays in its place with Undo and the seconds left; afterwards only its time stands."""
    flown.frame(7.0)
    flown.ask("call", "clearance", "atc")
    seen = flown.shown("calls")
    assert "16:00:00 UTC, sim 0:00:07" in seen.words
    assert ("undo_call", "clearance") in seen.actions
    assert "Undo 10 s" in seen.words
    assert "waited-clearance" in seen.ids
    flown.wall.now_s += UNDO_WINDOW_S
    later = flown.shown("calls")
    assert ("undo_call", "clearance") not in later.actions
    assert "waited-clearance" not in later.ids
    assert "16:00:00 UTC, sim 0:00:07" in later.words


def test_a_call_taken_back_is_a_button_again(flown: FlownDevice) -> None:
    """After Undo nothing of the call is left on the screen."""
    flown.frame(7.0)
    flown.ask("call", "clearance", "atc")
    assert flown.ask("undo_call", "clearance").accepted
    seen = flown.shown("calls")
    assert "UTC" not in seen.words
    assert ("call", "clearance") in seen.actions


def test_a_call_before_the_first_frame_says_when_it_counts(flown: FlownDevice) -> None:
    """A call that waits for the simulator is marked so, and has its simulator time from then on."""
    flown.ask("call", "briefing", "captain")
    assert "counts from the first frame" in flown.shown("calls").words
    flown.frame(3.0)
    assert "sim 0:00:03" in flown.shown("calls").words


def test_another_one_who_entered_it_is_named(flown: FlownDevice) -> None:
    """Where somebody else than who says it has entered a call, that stands beside it."""
    flown.frame(0.0)
    flown.ask("call", "clearance", "captain")
    assert "by Captain" in flown.shown("calls").words


def test_what_no_signal_shows_is_confirmed_here(flown: FlownDevice) -> None:
    """An item to confirm has a touch, and its time once it was."""
    flown.frame(0.0)
    assert ("confirm", "flow.before.documents") in flown.shown("calls").actions
    flown.ask("confirm", "flow.before.documents", "first_officer")
    seen = flown.shown("calls")
    assert "Documents on board confirmed by First officer, sim 0:00:00" in seen.words
    assert ("confirm", "flow.before.documents") not in seen.actions


def test_only_some_groups_may_be_asked_for(flown: FlownDevice) -> None:
    """The instructor's list holds nothing of the crew, and no group that is empty."""
    views = {call.id: call for group in calls(flown.device)["groups"] for call in group.calls}  # type: ignore[attr-defined]
    assert [group.id for group in call_groups(flown.device.pack, views, ("ground", "cabin", "nobody"))] == [
        "ground",
        "cabin",
    ]
