"""The messages of a recording without a pseudonym, so that judging again brings about what the recording says.

What a request says and what was told on it are overwritten in the same way: as they were, both are cut to what a session takes,
and what a session refused it refuses still.  Ids of seats, items and calls, the values of papers, and words of the pack stay,
though somebody may bear such a word as a name.

Takes: a `Blot`.  Gives: messages.
"""

from __future__ import annotations

from collections.abc import Callable, Container
from typing import Any

import msgspec

from bridge.notes import Change, Remarked, SessionNoted
from bridge.people.names import ERASED, Blot
from bridge.record.form import ENTRY, HEAD, KINDS, PICTURE, REQUEST, TOPICS
from bridge.requests import LONGEST_NAME, LONGEST_REMARK
from rules.faults import InputFaults
from rules.source import source_of

EXCUSED = "excused: "
_NOTES = (TOPICS[SessionNoted], TOPICS[Remarked])
_LIMITS = {Change.NAMED: LONGEST_NAME, Change.COURSE: LONGEST_NAME}
Fields = dict[str, Any]


class Unwritable(Exception):  # noqa: N818 - it cannot be written without the name; that is no mistake of ours
    """A message cannot be written without the pseudonym and still mean the same."""


class Messages:
    """Overwrites the pseudonym in the messages of one recording."""

    def __init__(self, blot: Blot, accepted: Container[int] = ()) -> None:
        """Learn which requests were granted, by their numbers: what those name is known to the pack."""
        self._blot, self._accepted = blot, accepted
        self._others: dict[str, Callable[[Fields, int], Fields]] = {
            HEAD: self._head,
            PICTURE: self._picture,
            REQUEST: self._request,
        }

    def without(self, topic: str, number: int, data: bytes) -> bytes:
        """A message without it; the same bytes where it does not stand in it.

        Raises:
            Unwritable: that cannot be.
        """
        change = self._others.get(topic)
        if (change is None and not topic.startswith(ENTRY)) or not self._blot.may_stand_in(data):
            return data
        try:
            fields = msgspec.json.decode(data, type=dict[str, Any])
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            raise Unwritable(f"message {number} cannot be read") from error
        changed = change(fields, number) if change is not None else self._told(topic, fields)
        return data if changed == fields else msgspec.json.encode(changed)

    def _head(self, head: Fields, _: int) -> Fields:
        papers = self._texts(head.get("trip", {}), "title", "note")
        return {**self._texts(head, "name", "course"), "trip": papers}

    def _picture(self, picture: Fields, number: int) -> Fields:
        asked = [self._request(one, number, known=True) for one in picture.get("requests", [])]
        return {**picture, "requests": asked} if asked else picture

    def _request(self, asked: Fields, number: int, *, known: bool = False) -> Fields:
        known = known or number in self._accepted
        change: Callable[[str], str] = str if known else self._id
        match asked.get("verb"):
            case "amend":
                return {
                    **self._texts(asked, "by", "name"),
                    "reason": self._papers(asked.get("reason", ""), asked.get("name", "")),
                }
            case "name" | "course":
                return self._changed(self._texts(asked, "by", "reason"), "name", self._asked(LONGEST_NAME))
            case "seat":
                asked = self._changed(self._texts(asked, "by"), "reason", self._asked(LONGEST_NAME))
                return self._changed(asked, "name", change)
            case "remark":
                return self._changed(self._texts(asked, "by", "name"), "reason", self._asked(LONGEST_REMARK))
            case "confirm":
                return self._changed(
                    self._changed(self._texts(asked, "reason"), "name", change), "by", change
                )
        return self._changed(self._texts(asked, "by", "reason"), "name", change)

    def _told(self, topic: str, entry: Fields) -> Fields:
        """An entry or note: who, what people wrote, and the words of an excuse."""
        entry = self._changed(entry, "sentence", self._excuse)
        if topic in _NOTES:
            entry = self._changed(entry, "text", self._written(topic, entry.get("change")))
        elif topic not in KINDS:
            entry = self._texts(entry, "text")
        return self._texts(entry, "by")

    def _written(self, topic: str, change: object) -> Callable[[str], str]:
        if change == Change.SEATED:
            return self._seated
        longest = LONGEST_REMARK if topic == TOPICS[Remarked] else _LIMITS.get(change)  # type: ignore[call-overload]
        return self._blot.text if longest is None else lambda text: self._fitted(text, longest)

    def _seated(self, text: str) -> str:
        """`Title: who`; the title of the seat stays."""
        title, colon, who = text.partition(": ")
        return title + colon + self._fitted(who, LONGEST_NAME)

    def _excuse(self, sentence: str) -> str:
        if not sentence.startswith(EXCUSED):
            return sentence
        return EXCUSED + self._blot.text(sentence.removeprefix(EXCUSED))

    def _asked(self, longest: int) -> Callable[[str], str]:
        """Changes a text of a request that a session takes up to this length; longer ones it refuses, and does so still."""

        def change(said: str) -> str:
            clean = " ".join("".join(c if c.isprintable() else " " for c in said).split())
            if not self._blot.stands_in(clean):
                return said
            if len(clean) > longest:
                return self._blot.text(clean).ljust(longest + 1, ".")
            return self._fitted(clean, longest)

        return change

    def _fitted(self, text: str, longest: int) -> str:
        """Not longer than that, if it was not before."""
        after = self._blot.text(text)
        return self._blot.text(text, short=True) if len(after) > longest >= len(text) else after

    def _id(self, said: str) -> str:
        """What should have been an id and was none that the session knew: ids have no spaces."""
        if self._blot.is_name(said):
            return ERASED
        return self._blot.text(said) if " " in said else said

    def _papers(self, sheet: str, file: str) -> str:
        """A trip sheet in whose comments, title or note it may stand.

        Raises:
            Unwritable: it stands in what the sheet says.
        """
        after = self._blot.text(sheet)
        if after != sheet and _said(sheet, file) != _said(after, self._blot.text(file)):
            raise Unwritable("it stands in the papers")
        return after

    def _texts(self, fields: Fields, *names: str) -> Fields:
        for name in names:
            fields = self._changed(fields, name, self._blot.text)
        return fields

    def _changed(self, fields: Fields, name: str, change: Callable[[str], str]) -> Fields:
        value = fields.get(name)
        return {**fields, name: change(value)} if isinstance(value, str) else fields


def _said(sheet: str, file: str) -> object:
    """What a sheet says that judging depends on; None where it cannot be read."""
    try:
        data = source_of(sheet, file).data
    except InputFaults:
        return None
    trip = data.get("trip") if isinstance(data, dict) else None
    return {**trip, "title": "", "note": ""} if isinstance(trip, dict) else data
