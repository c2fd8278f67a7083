"""Reads a recording back: its head, and everything that went in and came out, in the order of its judging.

A recording that was cut (the program was killed, the disk was full) is read as far as it goes, and then says where it
breaks off.  The parts that belong to it are found by their names.

Takes: a path.  Gives: `Recording`; `InputFaults` where that is none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

import msgspec

from bridge.control import Request
from bridge.inputs import Ticked
from bridge.notes import Told
from bridge.record.form import (
    BUNDLE,
    ENTRY,
    FORM,
    FRAME,
    HEAD,
    KINDS,
    LOST,
    PICTURE,
    REQUEST,
    TICK,
    Bundle,
    FrameForm,
    Head,
    Lost,
    PictureForm,
    RequestForm,
    TickForm,
)  # fmt: skip
from bridge.record.frames import Unpacker
from bridge.record.rows import Broken, ForeignError, Row, read_rows
from bridge.record.shelf import part_of
from bridge.record.writer import part_path
from rules.faults import Fault, InputFaults, Place
from rules.signals.model import Frame

NUMBERS = 0xFFFFFFFF
"""Sequences have 32 bits."""
MADE_BY = "a recording as `holdshort watch --keep` makes it"


class Unknown(NamedTuple):
    """An entry of a kind that this program does not know, or no longer in this form: its channel and fields."""

    topic: str
    fields: dict[str, Any]


What: TypeAlias = Frame | Ticked | Request | Told | Lost | PictureForm | Unknown


class Line(NamedTuple):
    """One thing that went in or came out; `utc` in seconds since 1970, of an entry that of its input."""

    sequence: int
    utc: float
    what: What

    @property
    def went_in(self) -> bool:
        """Whether it is an input."""
        return isinstance(self.what, Frame | Ticked | Request)


class Missing(Exception):  # noqa: N818 - messages are missing; that is what happened, not a mistake of ours
    """The messages after this number are not there."""

    def __init__(self, last: int) -> None:
        """Say after which."""
        super().__init__(f"messages are missing after number {last}")


class Recording:
    """One recording, which may be read as often as one likes.

    Attributes:
        head: The session when it began.
        paths: Its parts, from the one that was named on.
        fault: Where and why it breaks off; None where it was read to its end, or nothing was read yet.
    """

    def __init__(self, head: Head, paths: tuple[Path, ...]) -> None:
        """Nothing is read yet but the head; `open_recording` makes it."""
        self.head = head
        self.paths = paths
        self.fault: Fault | None = None
        self._last = head.first

    def rows(self) -> Iterator[Row]:
        """Every message of all parts as it stands in the files; sets `fault` at the end. Never raises."""
        self.fault, self._last = None, self.head.first
        for path in self.paths:
            try:
                yield from self._unbroken(path)
            except Missing as missing:
                self.fault = Fault(Place(str(path)), str(missing), "all of them", "all before it is whole")
            except Broken as broken:
                self.fault = _cut(path, broken)
            except ForeignError as error:
                self.fault = Fault(Place(str(path)), f"this is {error}", "a part of the recording")
            except OSError as error:
                self.fault = _unreadable(path, error)
            if self.fault is not None:
                return

    def _unbroken(self, path: Path) -> Iterator[Row]:
        """The rows of a part while no number is missing."""
        for row in read_rows(path):
            if row.sequence not in (self._last, (self._last + 1) & NUMBERS):
                raise Missing(self._last)
            self._last = row.sequence
            yield row

    def lines(self) -> Iterator[Line]:
        """Everything that went in and came out; as `rows`."""
        reading = MessageReader()
        for row in self.rows():
            try:
                what = reading.what(row)
            except (msgspec.MsgspecError, KeyError, RecursionError) as error:
                where = Place(str(self.paths[0]))
                said = f"message {row.sequence} of {row.topic} cannot be read ({error})"
                self.fault = Fault(where, said, f"a message of form {FORM}", "all before it is whole")
                return
            if what is not None:
                yield Line(row.sequence, row.utc, what)


def open_recording(path: Path | str) -> Recording:
    """Open a recording.

    Args:
        path: Its first part, or a later one to read from there.

    Raises:
        InputFaults: It cannot be read, is no recording, is of a form that is not known, or ends before its head.
    """
    path = Path(path)
    try:
        head = _head(path)
    except OSError as error:
        raise InputFaults([_unreadable(path, error)]) from None
    except ForeignError as error:
        raise InputFaults([Fault(Place(str(path)), f"this is {error}", MADE_BY)]) from None
    except Broken as broken:
        what = f"this breaks off at byte {broken.offset}, before its head"
        raise InputFaults([Fault(Place(str(path)), what, MADE_BY, "nothing was recorded in it")]) from None
    return Recording(head, _parts(path))


def _head(path: Path) -> Head:
    """The head, which is the first message.

    Raises:
        InputFaults: It is of another form.
    """
    row = next(read_rows(path), None)
    if row is None or row.topic != HEAD:
        raise ForeignError("a recording without a head")
    try:
        form = msgspec.json.decode(row.data, type=_Form).form
        if form == FORM:
            return msgspec.json.decode(row.data, type=Head)
    except msgspec.MsgspecError as error:
        raise ForeignError(f"a recording whose head cannot be read ({error})") from None
    hint = "a newer holdshort reads it" if form > FORM else ""
    raise InputFaults([Fault(Place(str(path)), f"this recording is of form {form}", f"form {FORM}", hint)])


class _Form(msgspec.Struct, frozen=True):
    """What a head of any form says."""

    form: int = msgspec.field(name="form")


def _parts(path: Path) -> tuple[Path, ...]:
    """This part and all that follow it."""
    stem, part = part_of(path)
    paths = [path]
    while (following := part_path(path.parent, stem, part + len(paths))).is_file():
        paths.append(following)
    return tuple(paths)


def _cut(path: Path, broken: Broken) -> Fault:
    what = f"the recording breaks off at byte {broken.offset} ({broken.why})"
    hint = (
        "the program was stopped at once, the disk was full, or it is being written now; all before is whole"
    )
    return Fault(Place(str(path)), what, "its end", hint)


def _unreadable(path: Path, error: OSError) -> Fault:
    return Fault(Place(str(path)), f"this cannot be read ({error.strerror or error})", MADE_BY)


class MessageReader:
    """Turns messages into what they say, one after the other."""

    def __init__(self) -> None:
        """At the beginning of a part."""
        self._unpacker = Unpacker()
        self._frame = msgspec.json.Decoder(FrameForm)
        self._entries = {topic: msgspec.json.Decoder(kind) for topic, kind in KINDS.items()}
        self._others: dict[str, Callable[[bytes], What | None]] = {
            TICK: lambda data: Ticked(msgspec.json.decode(data, type=TickForm).recv_s),
            REQUEST: lambda data: msgspec.json.decode(data, type=RequestForm).request,
            LOST: lambda data: msgspec.json.decode(data, type=Lost),
            PICTURE: lambda data: msgspec.json.decode(data, type=PictureForm),
            BUNDLE: self._learn,
        }

    def what(self, row: Row) -> What | None:
        """What a message says; None where that is nothing of the session."""
        if row.topic == FRAME:
            return self._unpacker.unpack(self._frame.decode(row.data))
        if row.topic.startswith(ENTRY):
            return self._entry(row)
        other = self._others.get(row.topic)
        return other(row.data) if other is not None else None

    def _entry(self, row: Row) -> What:
        decoder = self._entries.get(row.topic)
        if decoder is not None:
            try:
                entry: Told = decoder.decode(row.data)
            except msgspec.ValidationError:
                pass  # it was another program's: its fields are given as they are
            else:
                return entry
        return Unknown(row.topic, msgspec.json.decode(row.data, type=dict[str, Any]))

    def _learn(self, data: bytes) -> None:
        self._unpacker.learn(msgspec.json.decode(data, type=Bundle))
