"""Redacts the messages of a recording so that replaying it still gives the recorded events.

The texts of a request and of the events that it caused change in the same way: both are cut to the length that a
session accepts, and a request that was refused is still refused.  Ids of seats, items and calls, values of the trip
sheet, and texts of the pack stay, even if somebody has such a word as a pseudonym.

    pseudonym Al, replaced by erased      request         event
    recorded                              remark "Al x"   remark "Al x"
    redacted                              "erased x"      "erased x"

Takes: a `Redactor`.  Gives: messages.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from typing import Any

import msgspec

from bridge.privacy.pseudonyms import ERASED, Redactor
from bridge.recording.file_format import EVENT_PREFIX, EVENT_TYPES, HEAD, KEYFRAME, REQUEST
from bridge.session.request_handlers import MAX_NAME_LENGTH, MAX_REMARK_LENGTH
from bridge.session.session_events import (
    CHANGE_KINDS,
    CourseChanged,
    RemarkAdded,
    SeatAssigned,
    SessionRenamed,
)
from rules.faults import InputFaults
from rules.judge.events import VerdictChanged, WaiverBegun, WaiverUndone
from rules.source import parse_source
from rules.words import printable_line

_NOT_OF_PEOPLE = frozenset({"sim_s", "utc", "seat"})
"""The fields of a change of a session that hold no text of people; every other one is redacted, also of a new change."""
_LENGTHS: Mapping[type, Mapping[str, int]] = {
    SessionRenamed: {"name": MAX_NAME_LENGTH},
    CourseChanged: {"course": MAX_NAME_LENGTH},
    SeatAssigned: {"person": MAX_NAME_LENGTH},
    RemarkAdded: {"text": MAX_REMARK_LENGTH},
    VerdictChanged: {"waiver": MAX_REMARK_LENGTH},
    WaiverBegun: {"reason": MAX_REMARK_LENGTH},
    WaiverUndone: {"reason": MAX_REMARK_LENGTH},
}
"""The length to which a session accepts a field; a field that is not here may have any."""


def _people_fields(change: type) -> dict[str, int | None]:
    """Give the fields of a change that may hold a text of people, each with its length."""
    names = {field.encode_name for field in msgspec.structs.fields(change)} - _NOT_OF_PEOPLE
    return {name: _LENGTHS.get(change, {}).get(name) for name in sorted(names)}


_CHANGES: tuple[type, ...] = (*CHANGE_KINDS, RemarkAdded)
_PEOPLE_FIELDS: Mapping[type, Mapping[str, int | None]] = {
    **_LENGTHS,
    **{change: _people_fields(change) for change in _CHANGES},
}
"""The fields of events with texts of people, beside `by`."""
_TOPIC_FIELDS: Mapping[str, Mapping[str, int | None]] = {
    topic: {**_PEOPLE_FIELDS.get(event_type, {}), "by": None} for topic, event_type in EVENT_TYPES.items()
}
Fields = dict[str, Any]


class NotRedactableError(Exception):
    """A message cannot be written without the pseudonym and keep its meaning."""


class MessageRedactor:
    """Overwrites the pseudonym in the messages of one recording."""

    def __init__(self, redactor: Redactor, accepted: Container[int] = ()) -> None:
        """Prepare for a recording with these accepted requests, whose names are ids of the pack."""
        self._redactor, self._accepted = redactor, accepted
        self._redact_topic: dict[str, Callable[[Fields, int], Fields]] = {
            HEAD: self._redact_head,
            KEYFRAME: self._redact_keyframe,
            REQUEST: self._redact_request,
        }

    def redact(self, topic: str, number: int, data: bytes) -> bytes:
        """Redact a message; the bytes stay the same if it does not contain the pseudonym.

        Raises:
            NotRedactableError: This is not possible.
        """
        change = self._redact_topic.get(topic)
        if (change is None and not topic.startswith(EVENT_PREFIX)) or not self._redactor.may_occur_in(data):
            return data
        try:
            fields = msgspec.json.decode(data, type=dict[str, Any])
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            raise NotRedactableError(f"message {number} cannot be read") from error
        changed = change(fields, number) if change is not None else self._redact_event(topic, fields)
        return data if changed == fields else msgspec.json.encode(changed)

    def _redact_head(self, head: Fields, _: int) -> Fields:
        trip_sheet = self._redact_fields(head.get("trip", {}), "title", "note")
        return {**self._redact_fields(head, "name", "course"), "trip": trip_sheet}

    def _redact_keyframe(self, keyframe: Fields, number: int) -> Fields:
        requests = [
            self._redact_request(request, number, known=True) for request in keyframe.get("requests", [])
        ]
        return {**keyframe, "requests": requests} if requests else keyframe

    def _redact_request(self, request: Fields, number: int, *, known: bool = False) -> Fields:
        known = known or number in self._accepted
        change: Callable[[str], str] = str if known else self._redact_unknown_id
        match request.get("verb"):
            case "amend":
                return {
                    **self._redact_fields(request, "by", "name"),
                    "reason": self._redact_trip_sheet(request.get("reason", ""), request.get("name", "")),
                }
            case "rename_session" | "set_course":
                return self._replace_field(
                    self._redact_fields(request, "by", "reason"),
                    "name",
                    self._request_text_redactor(MAX_NAME_LENGTH),
                )
            case "assign_seat":
                request = self._replace_field(
                    self._redact_fields(request, "by"), "reason", self._request_text_redactor(MAX_NAME_LENGTH)
                )
                return self._replace_field(request, "name", change)
            case "remark":
                return self._replace_field(
                    self._redact_fields(request, "by", "name"),
                    "reason",
                    self._request_text_redactor(MAX_REMARK_LENGTH),
                )
            case "waive" | "undo_waiver":
                request = self._replace_field(
                    self._redact_fields(request, "by"),
                    "reason",
                    self._request_text_redactor(MAX_REMARK_LENGTH),
                )
                return self._replace_field(request, "name", change)
            case "confirm":
                return self._replace_field(
                    self._replace_field(self._redact_fields(request, "reason"), "name", change), "by", change
                )
        return self._replace_field(self._redact_fields(request, "by", "reason"), "name", change)

    def _redact_event(self, topic: str, event: Fields) -> Fields:
        """Redact the requester and the texts of people; in an event of another version, every text."""
        fields = _TOPIC_FIELDS.get(topic)
        for name, longest in (fields if fields is not None else dict.fromkeys(event)).items():
            event = self._replace_field(event, name, self._event_text_redactor(longest))
        return event

    def _event_text_redactor(self, longest: int | None) -> Callable[[str], str]:
        """Return a function for an event text that a session accepts up to this length (None: any)."""
        if longest is None:
            return self._redactor.redact
        return lambda text: self._redact_to_length(text, longest)

    def _request_text_redactor(self, longest: int) -> Callable[[str], str]:
        """Return a function for a request text that a session accepts up to this length; longer ones stay too long."""

        def change(text: str) -> str:
            clean = printable_line(text)
            if not self._redactor.occurs_in(clean):
                return text
            if len(clean) > longest:
                return self._redactor.redact(clean).ljust(longest + 1, ".")
            return self._redact_to_length(clean, longest)

        return change

    def _redact_to_length(self, text: str, longest: int) -> str:
        """Redact a text, which stays within the limit if it was before."""
        after = self._redactor.redact(text)
        return self._redactor.redact(text, truncate=True) if len(after) > longest >= len(text) else after

    def _redact_unknown_id(self, text: str) -> str:
        """Redact a text in the place of an id; ids have no spaces."""
        if self._redactor.matches(text):
            return ERASED
        return self._redactor.redact(text) if " " in text else text

    def _redact_trip_sheet(self, sheet: str, file: str) -> str:
        """Redact comments, title and note of a trip sheet.

        Raises:
            NotRedactableError: The pseudonym occurs in another part of the sheet.
        """
        after = self._redactor.redact(sheet)
        if after != sheet and _judged_content(sheet, file) != _judged_content(
            after, self._redactor.redact(file)
        ):
            raise NotRedactableError("the pseudonym occurs in the trip sheet")
        return after

    def _redact_fields(self, fields: Fields, *names: str) -> Fields:
        for name in names:
            fields = self._replace_field(fields, name, self._redactor.redact)
        return fields

    def _replace_field(self, fields: Fields, name: str, change: Callable[[str], str]) -> Fields:
        value = fields.get(name)
        return {**fields, name: change(value)} if isinstance(value, str) else fields


def _judged_content(sheet: str, file: str) -> object:
    """Return the parts of a sheet on which judging depends; None if it cannot be parsed."""
    try:
        data = parse_source(sheet, file).data
    except InputFaults:
        return None
    trip = data.get("trip") if isinstance(data, dict) else None
    return {**trip, "title": "", "note": ""} if isinstance(trip, dict) else data
