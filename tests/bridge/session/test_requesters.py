"""Tests of bridge.session.requesters: who may make a request, on every way in."""

from __future__ import annotations

from typing import get_args

import pytest

from bridge.recording.frame_codec import LASTING_VERBS
from bridge.runtime.registry import DeviceRegistry
from bridge.session.request_handlers import handle_request
from bridge.session.requesters import check_requester, requesters
from bridge.session.requests import Request, Verb
from bridge.session.session_input import InputReceived
from rules.faults import InputFaults
from rules.packs.model import SPEAKERS, Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock


def test_seats_and_roles_may_make_requests(pack: Pack) -> None:
    """Each seat of the pack and each role of calls may, also nobody in particular, and a person who sits in a seat."""
    assert requesters(pack) == ("captain", "first_officer", *SPEAKERS)
    for by in ("", *requesters(pack), "Heron"):
        check_requester(Request("waive", "x", by, "why"), pack, ["Heron"])


@pytest.mark.parametrize("verb", get_args(Verb))
@pytest.mark.parametrize("by", ["capten", "pilot", "Captain", "trip sheet", "Heron", " "])
def test_anybody_else_is_refused(pack: Pack, verb: Verb, by: str) -> None:
    """The refusal names the command, and lists who may; a slip of the keyboard gets a hint."""
    with pytest.raises(InputFaults) as refused:
        check_requester(Request(verb, "x", by), pack)
    (fault,) = refused.value.faults
    assert fault.what == f"unknown seat or role {by}"
    assert fault.expected == "captain, first_officer, ground, atc, cabin, company or instructor"
    if by in ("capten", "Captain"):
        assert fault.hint == "did you mean captain?"


def test_a_refused_request_changes_nothing(pack: Pack, clock: ManualClock) -> None:
    """No input is published for a refused request, and the next one is accepted."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0), 1.0)
    received: list[InputReceived] = []
    device.bus.subscribe(received.append, InputReceived)
    registry = DeviceRegistry([device])
    for verb, name in (("call", "push_approved"), ("waive", "flow.before.beacon"), ("start_session", "Next")):
        reply = registry.handle(Request(verb, name, "nobody", "why"))  # type: ignore[arg-type]  # a verb
        assert not reply.accepted
        assert "first_officer, ground" in reply.text
    assert (received, device.session.name, device.journal.calls) == ([], "Session 1", [])
    assert registry.handle(Request("call", "push_approved", "ground")).accepted
    assert len(received) == 1


def test_a_person_in_a_seat_may_make_requests(pack: Pack, clock: ManualClock) -> None:
    """A pseudonym counts while the person sits in a seat."""
    device, _ = device_on_memory_link(pack, clock)
    assert not device.handle(Request("call", "push_approved", "Heron")).accepted
    device.handle(Request("assign_seat", "captain", "instructor", "Heron"))
    assert device.handle(Request("call", "push_approved", "Heron")).accepted


@pytest.mark.parametrize("verb", sorted(LASTING_VERBS - {"amend", "assign_seat", "confirm"}))
def test_recorded_requests_are_not_checked_again(pack: Pack, clock: ManualClock, verb: Verb) -> None:
    """What an older recording accepted from anybody is judged again as it was."""
    device, _ = device_on_memory_link(pack, clock)
    handle_request(device.session, Request("waive", "flow.before.pressure", "somebody", "why"))
    name = "flow.before.beacon" if verb == "waive" else "flow.before.pressure"
    assert handle_request(device.session, Request(verb, name, "somebody", "why")).accepted
