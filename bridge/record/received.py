"""What becomes of a recording's messages: frames for the receiver, and a run that asks again what was asked.

Frames are judged by the clock of the recording: what had grown too old grows too old now.  What people ask now is done too.

Takes: messages.  Gives: `RecordedReceiver`, `Replay`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import msgspec

from adapters.build import decoder_for
from adapters.decoders.base import Reject, shown
from adapters.links.base import Datagram
from adapters.mapping.mapper import Mapper
from adapters.receiver import Receiver
from bridge.live import Run
from bridge.record import form, player
from bridge.record.form import Lost, PictureForm, RequestForm, TickForm
from bridge.record.frames import Fold, picture_frame
from bridge.record.reader import MessageReader
from bridge.record.rows import Row
from bridge.requests import grant
from rules.packs.model import Pack
from rules.signals.model import Frame, Quality, Sample


class _Retold(Mapper):
    """Notes that everything has to be said again."""

    again = False

    def forget(self) -> None:
        """Say everything with the next frame."""
        super().forget()
        self.again = True


class RecordedReceiver(Receiver):
    """Makes frames of a recording's messages."""

    def __init__(self, pack: Pack, link: str) -> None:
        """Begin with nothing received."""
        self._retold = _Retold(pack.signals, link=link)
        super().__init__(decoder_for("json"), self._retold)
        self.fold = Fold()
        self._reader = MessageReader()
        self._blind = False

    def take(self, data: bytes, recv_s: float) -> list[Frame]:
        """The frame of a message, where it is one; `recv_s` is now, the frame has the recording's own."""
        self.health.arrived(data, recv_s)
        self.health.records += 1
        topic, _, body = data.partition(b"\n")
        try:
            what = self._reader.what(Row(topic.decode(), 0, 0.0, 0.0, body))
        except (msgspec.MsgspecError, KeyError, UnicodeDecodeError) as error:
            self.health.refuse(Reject("message that cannot be read", str(error), shown(data)))
            return []
        frame = self._frame_of(what)
        if frame is None:
            return []
        self.health.accept(recv_s, self.order, ())
        return [self._whole(frame)]

    def jump(self, picture: PictureForm) -> Frame:
        """The first frame at another place, which says everything."""
        self.fold.set(picture)
        self._retold.again = False
        return picture_frame(picture, self.mapper.link, picture.calls)

    def _frame_of(self, what: object) -> Frame | None:
        """A frame, or where frames were lost the picture after them."""
        match what:
            case Frame():
                return what
            case Lost(frames=frames):
                self._blind = self._blind or frames > 0
            case PictureForm() if self._blind:
                self._blind = False
                return picture_frame(what, self.mapper.link, ())
        return None

    def _whole(self, frame: Frame) -> Frame:
        """The frame, with all that was said before where that was asked for."""
        self.fold.take(frame)
        if not self._retold.again:
            return frame
        self._retold.again = False
        said = {sample.name for sample in frame.changes}
        more = [
            Sample(name, value, Quality.INVALID if value is None else Quality.FRESH, frame.sim_s)
            for name, value in self.fold.values.items()
            if name not in said and name in frame.carried
        ]
        return Frame(
            frame.link,
            frame.sim_s,
            frame.recv_s,
            frame.epoch,
            frame.carried,
            [*frame.changes, *more],
            frame.calls,
        )


@dataclass(slots=True)
class Replay(Run):
    """A run that plays a recording; its session lives by the recording's clock.

    `begin` begins a session on the recording's papers; it is called where playing goes on from another place.
    `over` says whether all of it was played.
    """

    begin: Callable[[], None] = lambda: None
    over: Callable[[], bool] = lambda: False

    def take(self, datagram: Datagram) -> None:
        """Hand a message to the session; one that cannot be understood is counted."""
        topic, _, data = datagram.data.partition(b"\n")
        try:
            self._take(topic.decode(), data, datagram)
        except msgspec.MsgspecError as error:
            refused = Reject("message that cannot be read", str(error), shown(data))
            self.session.receiver.health.refuse(refused)

    def _take(self, topic: str, data: bytes, datagram: Datagram) -> None:
        match topic:
            case form.REQUEST:
                grant(self.session, msgspec.json.decode(data, type=RequestForm).request)
            case form.TICK:
                self.session.let_pass(msgspec.json.decode(data, type=TickForm).recv_s)
            case player.JUMP:
                self._jump(msgspec.json.decode(data, type=PictureForm))
            case _:
                self.session.take(datagram.data, datagram.recv_s)

    def tick(self) -> None:
        """Let screens follow; what grows too old is said by the recording."""
        self.session.read_on(self.clock())
        for beat in self.beats:
            beat()

    def _jump(self, picture: PictureForm) -> None:
        """Begin a session from how all stood at this place."""
        receiver = self.session.receiver
        if not isinstance(receiver, RecordedReceiver):  # ours always is
            raise TypeError(type(receiver).__name__)
        self.begin()
        self.session.judge(receiver.jump(picture))
        for request in picture.requests:
            grant(self.session, request.request)
