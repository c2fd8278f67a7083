"""Tests of redacting the messages of a recording."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.privacy.pseudonyms import Redactor
from bridge.privacy.redact_messages import MessageRedactor, NotRedactableError
from bridge.recording.file_format import EVENT_TOPICS, encode_message
from bridge.session.request_handlers import MAX_REMARK_LENGTH, clean_text
from bridge.session.requests import Request
from bridge.session.session_events import CHANGE_KINDS, KINDS, RemarkAdded
from rules.faults import InputFaults
from rules.judge.events import ENTRY_KINDS, ItemStatus, VerdictChanged
from rules.packs.model import Pack
from tests.bridge.builders import FrameSender, device_on_memory_link, feed
from tests.contract.waiting import ManualClock

CONFIRM = {"utc": 1.0, "verb": "confirm", "name": "flow.a.b", "by": "captain"}
SHEET = "trip: # for Captain\n  title: Captain's flight\n  values: {runway: captain}\n"


def _redacted(
    topic: str, fields: dict[str, Any], name: str = "Captain", accepted: tuple[int, ...] = (1,)
) -> Any:  # noqa: ANN401 - plain data
    messages = MessageRedactor(Redactor(name), accepted)
    return msgspec.json.decode(messages.redact(topic, 1, encode_message(fields)))


@pytest.mark.parametrize(
    ("sent", "expected"),
    [
        ({"verb": "assign_seat", "name": "captain", "reason": "Captain", "by": "Captain"}, {"reason": "erased", "by": "erased"}),
        ({"verb": "rename_session", "name": "Captain's day"}, {"name": "erased's day"}),
        ({"verb": "set_course", "name": "captain"}, {"name": "erased"}),
        ({"verb": "remark", "name": "", "reason": "\nCaptain\tlate"}, {"reason": "erased late"}),
        ({"verb": "waive", "name": "flow.captain.a", "reason": "\nCaptain", "by": "Captain"}, {"reason": "erased", "by": "erased"}),
        ({"verb": "end", "name": "", "reason": "captain left"}, {"reason": "erased left"}),
        (CONFIRM, {}),
        ({"verb": "amend", "name": "captain.yaml", "reason": SHEET.replace("runway: captain", ""), "by": ""},
         {"name": "erased.yaml", "reason": "trip: # for erased\n  title: erased's flight\n  values: {}\n"}),
    ],
)  # fmt: skip
def test_accepted_requests_keep_ids(sent: dict[str, Any], expected: dict[str, Any]) -> None:
    """Ids of seats, items and calls stay in accepted requests, even if a person has such a name."""
    assert _redacted("/request", sent) == {**sent, **expected}


def test_refused_requests_are_redacted() -> None:
    """In a refused request the name is replaced in the place of an unknown id too."""
    refused = {**CONFIRM, "name": "Heron", "by": "heron and Plover"}
    expected = {**CONFIRM, "name": "erased", "by": "erased and Plover"}
    assert _redacted("/request", refused, "Heron", ()) == expected


def test_a_trip_sheet_with_the_name_is_not_redactable() -> None:
    """Parts of the trip sheet on which judging depends are not changed: an error is raised."""
    with pytest.raises(NotRedactableError):
        _redacted("/request", {"verb": "amend", "name": "a.yaml", "reason": SHEET})


PACK_TEXTS = {"seat"}
"""Fields of changes with an id of the pack, which stay."""


@pytest.mark.parametrize("change", [*CHANGE_KINDS, RemarkAdded])
def test_every_text_of_every_change_is_redacted(change: type) -> None:
    """No text field of a change of a session keeps the name, also one that is added later."""
    times = {"sim_s": 1.0, "utc": 2.0}
    names = [f.name for f in msgspec.structs.fields(change) if f.name not in times]
    event = msgspec.to_builtins(change(**times, **dict.fromkeys(names, "captain")))
    kept = {name for name, value in _redacted(f"/event/{KINDS[change]}", event).items() if value == "captain"}
    assert kept <= PACK_TEXTS


JUDGE_TEXTS = {
    "actual", "call", "end", "gate", "id", "item", "lead_in", "level", "moment", "own_sentence", "phase",
    "previous_phase", "seat", "sentence", "status", "text", "title", "trace", "verdict", "wanted",
}  # fmt: skip
"""Text fields of the judge's events that come from the pack; `by`, `waiver` and `reason` are texts of people."""


def test_every_text_of_the_judge_is_known() -> None:
    """A new text field of an event of the judge fails here until it is decided whether people write it."""
    found = set[str]()
    for event_type in ENTRY_KINDS:
        for field in msgspec.structs.fields(event_type):
            if field.type is str or (isinstance(field.type, type) and issubclass(field.type, StrEnum)):
                found.add(field.encode_name)
    assert found - JUDGE_TEXTS == {"by", "waiver", "reason"}


@pytest.mark.parametrize(
    ("topic", "event", "expected"),
    [
        ("/event/call/entered", {"call": "captain", "by": "Captain"}, {"by": "erased"}),
        ("/event/callout", {"id": "captain", "text": "captain"}, {}),
        ("/event/verdict/changed", {"sentence": "captain is off"}, {}),
        ("/event/verdict/changed", {"sentence": "captain is off", "waiver": "captain ill", "by": "Captain"},
         {"waiver": "erased ill", "by": "erased"}),
        ("/event/waiver/begun", {"item": "captain", "reason": "captain ill", "by": "Captain"},
         {"reason": "erased ill", "by": "erased"}),
        ("/event/waiver/undone", {"item": "captain", "reason": "captain is back", "by": "instructor"},
         {"reason": "erased is back"}),
        ("/event/session/seat_assigned", {"seat": "captain", "person": "Captain", "by": "captain"},
         {"person": "erased", "by": "erased"}),
        ("/event/session/seat_assigned", {"seat": "captain", "person": None}, {}),
        ("/event/session/renamed", {"name": "captain"}, {"name": "erased"}),
        ("/event/session/started", {"name": "captain"}, {"name": "erased"}),
        ("/event/session/course_changed", {"course": "captain"}, {"course": "erased"}),
        ("/event/session/paused", {"reason": "captain left"}, {"reason": "erased left"}),
        ("/event/store/unreachable", {"problem": "disk of captain"}, {"problem": "disk of erased"}),
        ("/event/remark", {"text": "a captain", "by": "captain"}, {"text": "a erased", "by": "erased"}),
        ("/event/unknown", {"why": "a captain", "by": "captain"}, {"why": "a erased", "by": "erased"}),
    ],
)  # fmt: skip
def test_events_keep_texts_of_the_pack(topic: str, event: dict[str, Any], expected: dict[str, Any]) -> None:
    """Texts of people and reasons of waivers are redacted; texts of the pack stay."""
    assert _redacted(topic, event) == {**event, **expected}


def test_the_reason_of_a_waiver_is_redacted_as_the_judge_gives_it(pack: Pack, clock: ManualClock) -> None:
    """The reason is a field of its own and not in a sentence, so that no wording can hide the name."""
    device, _ = device_on_memory_link(pack, clock)
    feed(device, FrameSender().datagram(0.0), clock())
    events: list[VerdictChanged] = []
    device.session.bus.subscribe(events.append, VerdictChanged)
    device.handle(Request("assign_seat", "captain", "instructor", "Heron"))
    device.handle(Request("waive", "flow.before.beacon", "Heron", "Heron broke it"))
    (event,) = events
    assert (event.status, event.waiver, event.by) == (ItemStatus.WAIVED, "Heron broke it", "Heron")
    assert "Heron" not in event.sentence
    assert b"Heron" not in MessageRedactor(Redactor("Heron")).redact(
        EVENT_TOPICS[VerdictChanged], 1, encode_message(event)
    )


@given(
    st.sampled_from(["Al", "Heron", "Oystercatcher"]),
    st.lists(st.sampled_from(["a", " ", "Al ", "Heron ", "Oystercatcher ", "\t", "x" * 40]), max_size=60),
)
def test_acceptance_does_not_change(name: str, pieces: list[str]) -> None:
    """A redacted remark is accepted if it was before, and still refused if it was too long."""
    text = "".join(pieces)
    request = {"verb": "remark", "name": "", "reason": text}
    expected = _redacted("/request", request, name)["reason"]
    before = _accepted(text)
    event = None if before is None else _redacted("/event/remark", {"text": before}, name)["text"]
    assert _accepted(expected) == event
    assert not Redactor(name).occurs_in(expected)


def _accepted(text: str) -> str | None:
    try:
        return clean_text("remark", text, MAX_REMARK_LENGTH)
    except InputFaults:
        return None


@pytest.mark.parametrize("name", ['O"Hara', "back\\slash", "Zoë", "Ågot"])
def test_escaped_names_are_found(name: str) -> None:
    """Names with characters that JSON escapes are found."""
    assert (
        _redacted("/request", {"verb": "end", "reason": f"{name.upper()} left"}, name)["reason"]
        == "erased left"
    )
