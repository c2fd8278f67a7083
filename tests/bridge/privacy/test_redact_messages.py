"""Messages of a recording without a pseudonym."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.privacy.pseudonyms import Redactor
from bridge.privacy.redact_messages import MessageRedactor, NotRedactableError
from bridge.recording.file_format import encode_message
from bridge.session.request_handlers import MAX_REMARK_LENGTH, clean_text
from rules.faults import InputFaults

CONFIRM = {"utc": 1.0, "verb": "confirm", "name": "flow.a.b", "by": "captain"}
SHEET = "trip: # for Captain\n  title: Captain's flight\n  values: {runway: captain}\n"


def _without(
    topic: str, fields: dict[str, Any], name: str = "Captain", accepted: tuple[int, ...] = (1,)
) -> Any:  # noqa: ANN401 - plain data
    messages = MessageRedactor(Redactor(name), accepted)
    return msgspec.json.decode(messages.redact(topic, 1, encode_message(fields)))


@pytest.mark.parametrize(
    ("asked", "after"),
    [
        ({"verb": "assign_seat", "name": "captain", "reason": "Captain", "by": "Captain"}, {"reason": "erased", "by": "erased"}),
        ({"verb": "rename_session", "name": "Captain's day"}, {"name": "erased's day"}),
        ({"verb": "set_course", "name": "captain"}, {"name": "erased"}),
        ({"verb": "remark", "name": "", "reason": "\nCaptain\tlate"}, {"reason": "erased late"}),
        ({"verb": "waive", "name": "flow.captain.a", "reason": "\nCaptain", "by": "Captain"}, {"reason": "\nerased", "by": "erased"}),
        ({"verb": "end", "name": "", "reason": "captain left"}, {"reason": "erased left"}),
        (CONFIRM, {}),
        ({"verb": "amend", "name": "captain.yaml", "reason": SHEET.replace("runway: captain", ""), "by": ""},
         {"name": "erased.yaml", "reason": "trip: # for erased\n  title: erased's flight\n  values: {}\n"}),
    ],
)  # fmt: skip
def test_granted_requests_keep_what_is_no_person(asked: dict[str, Any], after: dict[str, Any]) -> None:
    """Ids of seats, items and calls stay in what was granted, though somebody bears such a word as a name."""
    assert _without("/request", asked) == {**asked, **after}


def test_refused_requests_keep_no_name() -> None:
    """Where the name stands in the place of an id that was not known, it goes too."""
    refused = {**CONFIRM, "name": "Heron", "by": "heron and Plover"}
    after = {**CONFIRM, "name": "erased", "by": "erased and Plover"}
    assert _without("/request", refused, "Heron", ()) == after


def test_papers_that_say_the_name_cannot_be_rewritten() -> None:
    """What judging depends on is not changed: the caller hears of it."""
    with pytest.raises(NotRedactableError):
        _without("/request", {"verb": "amend", "name": "a.yaml", "reason": SHEET})


@pytest.mark.parametrize(
    ("topic", "told", "after"),
    [
        ("/event/call/entered", {"call": "captain", "by": "Captain"}, {"by": "erased"}),
        ("/event/callout", {"id": "captain", "text": "captain"}, {}),
        ("/event/verdict/changed", {"sentence": "captain is off, needs on"}, {}),
        ("/event/verdict/changed", {"sentence": "waived: none (Captain)"}, {"sentence": "waived: none (erased)"}),
        ("/event/session/noted", {"change": "seated", "text": "Captain: Captain"}, {"text": "Captain: erased"}),
        ("/event/session/noted", {"change": "named", "text": "captain"}, {"text": "erased"}),
        ("/event/remarked", {"text": "a captain", "by": "captain"}, {"text": "a erased", "by": "erased"}),
        ("/event/unheard", {"text": "a captain", "by": "captain"}, {"text": "a erased", "by": "erased"}),
    ],
)  # fmt: skip
def test_entries_keep_what_the_pack_says(topic: str, told: dict[str, Any], after: dict[str, Any]) -> None:
    """What people wrote and the words of an excuse are overwritten; what the pack says stays."""
    assert _without(topic, told) == {**told, **after}


@given(
    st.sampled_from(["Al", "Heron", "Oystercatcher"]),
    st.lists(st.sampled_from(["a", " ", "Al ", "Heron ", "Oystercatcher ", "\t", "x" * 40]), max_size=60),
)
def test_what_was_granted_is_granted_and_what_was_refused_is_refused(name: str, pieces: list[str]) -> None:
    """Words grow or shrink when they are overwritten; a remark that was too long is so still, another is not."""
    said = "".join(pieces)
    asked = {"verb": "remark", "name": "", "reason": said}
    after = _without("/request", asked, name)["reason"]
    before = _taken(said)
    told = None if before is None else _without("/event/remarked", {"text": before}, name)["text"]
    assert _taken(after) == told
    assert not Redactor(name).occurs_in(after)


def _taken(said: str) -> str | None:
    try:
        return clean_text("remark", said, MAX_REMARK_LENGTH)
    except InputFaults:
        return None


@pytest.mark.parametrize("name", ['O"Hara', "back\\slash", "Zoë", "Ågot"])
def test_names_that_json_writes_otherwise_are_found(name: str) -> None:
    """Quotes and the like are written otherwise in a message; they are found all the same."""
    assert (
        _without("/request", {"verb": "end", "reason": f"{name.upper()} left"}, name)["reason"]
        == "erased left"
    )
