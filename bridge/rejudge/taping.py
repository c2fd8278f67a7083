"""From a recording to a tape, and to what came out when it was recorded.

Takes: the rows of a recording.  Gives: `Taped`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import msgspec

from bridge.control import Request
from bridge.record.form import (
    BUNDLE,
    ENTRY,
    FRAME,
    LOST,
    PICTURE,
    REQUEST,
    TICK,
    Bundle,
    FrameForm,
    Lost,
    PictureForm,
    RequestForm,
    TickForm,
)
from bridge.record.frames import Unpacker, picture_frame
from bridge.record.reader import Recording
from bridge.record.rows import Row
from rules.faults import Fault, InputFaults, Place
from rules.judge.core import Core
from rules.judge.entries import Entry
from rules.packs.model import Pack
from rules.packs.trip import trip_from
from rules.signals.model import Value
from rules.signals.tape import Tape
from rules.source import source_of

EVERY = 2000
"""So many rows are read between two words of progress."""


@dataclass(frozen=True, slots=True)
class Hand:
    """A request on the tape, asked of whoever judges it."""

    request: Request
    utc: float
    grant: Callable[[Request, float], None]

    def papers(self, pack: Pack) -> Mapping[str, Value]:
        """The papers of an amended sheet; none where that has faults, for then it is not taken."""
        if self.request.verb != "amend":
            return {}
        try:
            source = source_of(self.request.reason, self.request.name or "trip sheet")
            return trip_from(source, pack.signals).values
        except InputFaults:
            return {}

    def ask(self, core: Core) -> list[Entry]:  # noqa: ARG002 - the session that grants it has the core
        """Let it be granted; what that says is told there."""
        self.grant(self.request, self.utc)
        return []


@dataclass(slots=True)
class Taped:
    """A recording as a tape; `utc` has the wall's clock of each frame, `outputs` what came out: channel and bytes.

    `places` has for each output how many frames were on the tape by then.
    """

    tape: Tape = field(default_factory=Tape)
    utc: list[float] = field(default_factory=list)
    outputs: list[tuple[str, bytes]] = field(default_factory=list)
    places: list[int] = field(default_factory=list)


class Taping:
    """Puts rows on a tape, as `bridge.record.again` lets a session have them."""

    def __init__(self, recording: Recording, grant: Callable[[Request, float], None]) -> None:
        """Nothing read yet.

        Args:
            recording: What was recorded.
            grant: Called with each request and its time, when its turn comes.
        """
        self._recording = recording
        self._grant = grant
        self._taped = Taped()
        self._unpacker = Unpacker()
        self._names: dict[int, tuple[str, ...]] = {}
        self._link = ""
        self._blind = recording.head.part > 1
        self._running, self._ended = True, False
        self._frame = msgspec.json.Decoder(FrameForm)
        self._others: dict[str, Callable[[Row], None]] = {
            BUNDLE: self._learn,
            TICK: self._tick,
            REQUEST: lambda row: self._ask(msgspec.json.decode(row.data, type=RequestForm), row.utc),
            LOST: self._lose,
            PICTURE: self._see,
        }

    def read(self, progress: Callable[[int], None] = lambda _: None) -> Taped:
        """Read all of it, as far as it goes; the recording's `fault` says where that is.

        Args:
            progress: Called now and then with how many rows were read since the last time.
        """
        for number, row in enumerate(self._recording.rows(), start=1):
            try:
                self._take(row)
            except (msgspec.MsgspecError, KeyError, RecursionError) as error:
                self._recording.fault = _unreadable(self._recording, row, error)
                break
            if not number % EVERY:
                progress(EVERY)
        return self._taped

    def _take(self, row: Row) -> None:
        if row.topic == FRAME:
            self._put(self._frame.decode(row.data), row.utc)
        elif row.topic.startswith(ENTRY):
            self._taped.outputs.append((row.topic, row.data))
            self._taped.places.append(len(self._taped.utc))
        elif row.topic in self._others:
            self._others[row.topic](row)

    def _put(self, form: FrameForm, utc: float) -> None:
        names = self._names[form.bundle]
        if not self._running:
            return
        if form.samples:
            frame = self._unpacker.unpack(form)
            self._taped.tape.frame(frame)
        else:
            self._taped.tape.add(form.sim_s, form.recv_s, form.epoch, names, form.values, form.calls)
        self._taped.utc.append(utc)

    def _learn(self, row: Row) -> None:
        bundle = msgspec.json.decode(row.data, type=Bundle)
        self._unpacker.learn(bundle)
        self._names[bundle.number] = bundle.names
        self._link = bundle.link

    def _tick(self, row: Row) -> None:
        if self._running:
            self._taped.tape.tick(msgspec.json.decode(row.data, type=TickForm).recv_s)

    def _ask(self, form: RequestForm, utc: float) -> None:
        """A request; a pause leaves out what comes until it is over."""
        request = form.request
        self._taped.tape.request(Hand(request, utc, self._grant))
        match request.verb:
            case "pause":
                self._running = False
            case "resume":
                self._running = not self._ended
            case "end":
                self._running, self._ended = False, True
            case _:
                pass

    def _lose(self, row: Row) -> None:
        self._blind = self._blind or msgspec.json.decode(row.data, type=Lost).frames > 0

    def _see(self, row: Row) -> None:
        """Go on from how everything stood, where frames are missing before this."""
        if not self._blind:
            return
        picture = msgspec.json.decode(row.data, type=PictureForm)
        begins = not len(self._taped.tape)
        self._blind = False
        if self._running:
            self._taped.tape.frame(picture_frame(picture, self._link, picture.calls if begins else ()))
            self._taped.utc.append(row.utc)
        for request in picture.requests if begins else ():
            self._ask(request, row.utc)


def _unreadable(recording: Recording, row: Row, error: Exception) -> Fault:
    said = f"message {row.sequence} of {row.topic} cannot be read ({error})"
    return Fault(Place(str(recording.paths[0])), said, "a message as this program writes it")
