"""Requests of the crew and the instructor, and replies to them, as the control port and the page send them.

Takes: nothing.  Gives: the types of a request and a reply, and the meaning of each verb.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

import msgspec
from msgspec import structs

from rules.faults import Fault, InputFaults, Place
from rules.words import printable_line, words_of_id

Verb = Literal[
    "call",
    "confirm",
    "waive",
    "undo_waiver",
    "undo_call",
    "amend",
    "remark",
    "start_session",
    "rename_session",
    "set_course",
    "assign_seat",
    "pause",
    "resume",
    "end",
    "mute",
    "unmute",
    "start_checklist",
    "leave_open",
    "close_checklist",
    "playback_start",
    "playback_pause",
    "playback_seek",
    "playback_speed",
]


MAX_NAME_LENGTH = 200
"""Characters of a name in a request at most; a session's own name is shorter."""
MAX_REASON_LENGTH = 1000
"""Characters of a reason or remark in a request at most, before the verb looks at it."""


class VerbMeaning(NamedTuple):
    """Contents of `name` and `reason` in a request with this verb (empty: not used), and its effect."""

    name: str
    reason: str
    effect: str


VERB_MEANINGS: Mapping[Verb, VerbMeaning] = {
    "call": VerbMeaning("call", "", "Enter a call."),
    "confirm": VerbMeaning("item", "", "Confirm an item that no signal shows."),
    "waive": VerbMeaning("item", "why", "Waive an item for this flight."),
    "undo_waiver": VerbMeaning("item", "why, may be empty", "Undo a waiver; the item is judged again."),
    "undo_call": VerbMeaning("call", "", "Undo the latest call of this name, within 10 s."),
    "amend": VerbMeaning(
        "file name",
        "text of the trip sheet",
        "Replace values of the trip sheet; items that use them must be checked again.",
    ),
    "remark": VerbMeaning("", "text", "Write a remark for the debrief."),
    "start_session": VerbMeaning(
        "session name, may be empty",
        "",
        "End the session and start the next one with the present trip sheet and course.",
    ),
    "rename_session": VerbMeaning("session name", "", "Rename the session."),
    "set_course": VerbMeaning("course, empty for none", "", "Set the course of the session, for the trends."),
    "assign_seat": VerbMeaning(
        "seat", "pseudonym, empty for nobody", "Assign a seat to a person from now on."
    ),
    "pause": VerbMeaning("", "", "Pause the session: nothing is judged."),
    "resume": VerbMeaning("", "", "Resume a paused session."),
    "end": VerbMeaning("", "", "End the session."),
    "mute": VerbMeaning("", "", "Mute the voice on every screen and loudspeaker."),
    "unmute": VerbMeaning("", "", "Unmute the voice."),
    "start_checklist": VerbMeaning("checklist", "", "Start reading a checklist from its first line."),
    "leave_open": VerbMeaning("", "", "Leave the present line of the checklist open and go to the next."),
    "close_checklist": VerbMeaning("", "", "Close the checklist."),
    "playback_start": VerbMeaning("", "", "Start or continue the playback."),
    "playback_pause": VerbMeaning("", "", "Pause the playback."),
    "playback_seek": VerbMeaning(
        "0:10:00, +60 or -60", "", "Go to another position; a new session starts there."
    ),
    "playback_speed": VerbMeaning("0.05 to 1000", "", "Set the speed of the playback."),
}


def command_of(verb: str) -> str:
    """Name the command of a verb as a user knows it: `playback`, `undo-call`; a verb without a command in words."""
    if verb.startswith("playback_"):
        return "playback"
    return verb.replace("_", "-") if verb.startswith("undo_") else words_of_id(verb)


class Request(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """One request.

    Attributes:
        verb: the action.
        name: what it acts on, such as a call or an item.
        by: who requests it: a seat, ground, atc, cabin, company, instructor.
        reason: why, or the text that the verb needs.
        device: the device's id; may be empty where one device is watched.
    """

    verb: Verb = msgspec.field(name="verb")
    name: str = msgspec.field(name="name")
    by: str = msgspec.field(default="", name="by")
    reason: str = msgspec.field(default="", name="reason")
    device: str = msgspec.field(default="", name="device")


class Reply(msgspec.Struct, frozen=True):
    """The answer to a request: accepted or refused, and one sentence."""

    accepted: bool = msgspec.field(name="accepted")
    text: str = msgspec.field(name="text")


def checked_texts(request: Request) -> Request:
    """Clean the texts of a request from outside, which are shown, spoken, stored and recorded.

    A trip sheet keeps its lines: it is read as a file is.

    Raises:
        InputFaults: a text is too long.
    """
    faults = []
    lengths = {"name": MAX_NAME_LENGTH, "by": MAX_NAME_LENGTH, "device": MAX_NAME_LENGTH}
    if request.verb != "amend":
        lengths["reason"] = MAX_REASON_LENGTH
    cleaned = {}
    for field, limit in lengths.items():
        cleaned[field] = printable_line(getattr(request, field))
        if len(cleaned[field]) > limit:
            what = f"{field} has {len(cleaned[field])} characters"
            faults.append(Fault(Place(command_of(request.verb)), what, f"at most {limit}"))
    if faults:
        raise InputFaults(faults)
    return structs.replace(request, **cleaned)
