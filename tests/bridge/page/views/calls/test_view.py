"""Tests of bridge.page.views.calls.view: groups, awaited calls, times, undo, and items to confirm."""

from __future__ import annotations

from typing import Any

from bridge.page.views.calls.view import calls, calls_inputs
from bridge.page.widgets.call_list.call_list import CallGroup, awaited_calls, call_groups, call_inputs
from bridge.session.call_register import UNDO_WINDOW_S
from tests.bridge.page.page_builders import FlownDevice


def shown_groups(flown: FlownDevice) -> list[CallGroup]:
    """Return the groups that the view shows."""
    groups = calls(calls_inputs(flown.device))["groups"]
    assert isinstance(groups, list)
    return groups


def test_calls_are_in_groups_with_one_button_each(flown: FlownDevice) -> None:
    """Ground, ATC, cabin and each seat have groups; a call that was not made is one button."""
    flown.frame(0.0)
    shown: Any = calls(calls_inputs(flown.device))["groups"]
    groups = {group.title: [call.id for call in group.calls] for group in shown}
    assert groups == {
        "Ground": ["push_approved"],
        "ATC": ["clearance"],
        "Cabin": ["cabin_ready"],
        "Captain": ["briefing"],
    }
    assert flown.shown("calls").actions.count(("call", "cabin_ready")) == 1


def test_awaited_calls_come_first(flown: FlownDevice) -> None:
    """Calls in the next gate's cue and open needs come first, with the gate's title."""
    flown.frame(0.0)
    assert awaited_calls(call_inputs(flown.device)) == {
        "push_approved": "Push back",
        "clearance": "Push back",
    }
    assert flown.shown("calls").words.startswith(
        "Awaited push approved Push back waits for it departure clearance"
    )


def test_a_call_shows_both_times_and_can_be_undone_for_ten_seconds(flown: FlownDevice) -> None:
    """The call stays in place with Undo and the seconds left; afterwards only its time is shown."""
    flown.frame(7.0)
    flown.ask("call", "clearance", "atc")
    seen = flown.shown("calls")
    assert "16:00:00 UTC, sim 0:00:07" in seen.words
    assert ("undo_call", "clearance") in seen.actions
    assert "Undo 10 s" in seen.words
    assert "awaited-clearance" in seen.ids
    flown.wall.now_s += UNDO_WINDOW_S
    later = flown.shown("calls")
    assert ("undo_call", "clearance") not in later.actions
    assert "awaited-clearance" not in later.ids
    assert "16:00:00 UTC, sim 0:00:07" in later.words


def test_an_undone_call_is_a_button_again(flown: FlownDevice) -> None:
    """After Undo the call shows no time."""
    flown.frame(7.0)
    flown.ask("call", "clearance", "atc")
    assert flown.ask("undo_call", "clearance").accepted
    seen = flown.shown("calls")
    assert "UTC" not in seen.words
    assert ("call", "clearance") in seen.actions


def test_a_call_before_the_first_frame_is_marked(flown: FlownDevice) -> None:
    """A call that waits for the simulator is marked, and gets its simulator time with the first frame."""
    flown.ask("call", "briefing", "captain")
    assert "counts from the first frame" in flown.shown("calls").words
    flown.frame(3.0)
    assert "sim 0:00:03" in flown.shown("calls").words


def test_the_seat_that_entered_a_call_is_named(flown: FlownDevice) -> None:
    """If another seat entered a call, that seat is named."""
    flown.frame(0.0)
    flown.ask("call", "clearance", "captain")
    assert "by Captain" in flown.shown("calls").words


def test_items_without_a_signal_are_confirmed_here(flown: FlownDevice) -> None:
    """An item to confirm has a button, and a time after the confirmation."""
    flown.frame(0.0)
    assert ("confirm", "flow.before.documents") in flown.shown("calls").actions
    flown.ask("confirm", "flow.before.documents", "first_officer")
    seen = flown.shown("calls")
    assert "Documents on board confirmed by First officer, sim 0:00:00" in seen.words
    assert ("confirm", "flow.before.documents") not in seen.actions


def test_groups_can_be_selected(flown: FlownDevice) -> None:
    """A selection returns only the named groups, without empty ones."""
    views = {call.id: call for group in shown_groups(flown) for call in group.calls}
    assert [group.id for group in call_groups(flown.device.pack, views, ("ground", "cabin", "unknown"))] == [
        "ground",
        "cabin",
    ]
