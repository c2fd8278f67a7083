"""Passes the messages of a recording to a session: frames to its receiver, requests to its handlers.

Frames are judged on the clock of the recording, so a value becomes stale again at the same time.  Requests that are
made during the playback are handled too.

Takes: messages.  Gives: `ReplayReceiver`, `ReplayRunner`, `wait_until_played`.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import msgspec

from adapters.decoders.base import Reject, printable
from adapters.factory import decoder_for
from adapters.links.base import Datagram
from adapters.mapping.mapper import Mapper
from adapters.receiver import Receiver
from bridge.recording import file_format, player
from bridge.recording.file_format import FramesLost, RecordingKeyframe, RequestMessage, TickMessage
from bridge.recording.frame_codec import KeyframeBuilder, keyframe_to_frame
from bridge.recording.gap_filter import GapFilter
from bridge.recording.mcap_messages import McapMessage
from bridge.recording.reader import MessageDecoder
from bridge.runtime.device import Device
from bridge.runtime.device_events import RunnerTicked
from bridge.runtime.runner import TICK_S, SessionRunner
from bridge.session.request_handlers import handle_request
from rules.packs.model import Pack
from rules.signals.model import Frame, Quality, Sample


class ReplayReceiver(Receiver):
    """Decodes the frames of a recording."""

    def __init__(self, pack: Pack, link: str) -> None:
        super().__init__(decoder_for("json"), Mapper(pack.signals, link=link))
        self._all_wanted = False
        self.keyframe = KeyframeBuilder()
        self._decoder = MessageDecoder()
        self._gaps = GapFilter()

    def receive(self, data: bytes, recv_s: float, dropped: int = 0, sender: str = "") -> list[Frame]:  # noqa: ARG002 - nothing is dropped
        """Return the frame of a message, if it is one; `recv_s` is now, the frame has the recorded time."""
        self.health.count_datagram(data, recv_s)
        self.health.records += 1
        topic, _, body = data.partition(b"\n")
        try:
            content = self._decoder.decode(McapMessage(topic.decode(), 0, 0.0, 0.0, body))
        except (msgspec.MsgspecError, KeyError, UnicodeDecodeError) as error:
            self.health.count_reject(Reject("message that cannot be read", str(error), printable(data)))
            return []
        frame = self._frame_of(content)
        if frame is None:
            return []
        self.health.count_frame(recv_s, self.sequence, ())
        return [self._complete(frame)]

    def mark_all_changed(self) -> None:
        """Put every value into the next frame."""
        self._all_wanted = True

    def restore(self, keyframe: RecordingKeyframe) -> Frame:
        """Return the first frame after a seek, which carries every value."""
        self.keyframe.restore(keyframe)
        self._all_wanted = False
        return keyframe_to_frame(keyframe, self.mapper.link, keyframe.calls)

    def _frame_of(self, content: object) -> Frame | None:
        """Return a frame; after lost frames, the following keyframe as a frame."""
        match content:
            case Frame():
                return content
            case FramesLost():
                self._gaps.add_loss(content)
            case RecordingKeyframe():
                is_used, missing_from_s, missing = self._gaps.fill()
                if is_used:
                    return keyframe_to_frame(content, self.mapper.link, (), missing_from_s, missing)
        return None

    def _complete(self, frame: Frame) -> Frame:
        """Add all earlier values to a frame if they were asked for."""
        self.keyframe.add_frame(frame)
        if not self._all_wanted:
            return frame
        self._all_wanted = False
        carried = {sample.name for sample in frame.changes}
        more = [
            Sample(name, value, Quality.INVALID if value is None else Quality.FRESH, frame.sim_s)
            for name, value in self.keyframe.values.items()
            if name not in carried and name in frame.carried
        ]
        return Frame(
            frame.link,
            frame.sim_s,
            frame.recv_s,
            frame.epoch,
            frame.carried,
            [*frame.changes, *more],
            frame.calls,
            frame.missing_from_s,
            frame.missing_records,
        )


@dataclass(slots=True)
class ReplayRunner(SessionRunner):
    """A runner that plays a recording; its session lives on the clock of the recording.

    `start_session` starts a session with the trip sheet of the recording after a seek.  `is_finished` returns True when
    the whole range was played.
    """

    receiver: ReplayReceiver
    start_session: Callable[[], None]
    is_finished: Callable[[], bool]

    async def receive_forever(self) -> None:
        """Process each message until cancelled; besides frames there are requests, ticks and seeks."""
        await self.source.receive_datagrams(self.deliver)

    def deliver(self, datagram: Datagram) -> None:
        """Pass a message to the session; one that cannot be decoded is counted."""
        topic, _, data = datagram.data.partition(b"\n")
        try:
            self._dispatch(topic.decode(), data, datagram)
        except msgspec.MsgspecError as error:
            refused = Reject("message that cannot be read", str(error), printable(data))
            self.source.health.count_reject(refused)

    def _dispatch(self, topic: str, data: bytes, datagram: Datagram) -> None:
        match topic:
            case file_format.REQUEST:
                handle_request(self.session, msgspec.json.decode(data, type=RequestMessage).request)
            case file_format.TICK:
                self.session.expire_stale(msgspec.json.decode(data, type=TickMessage).recv_s)
            case player.SEEK:
                self._seek(msgspec.json.decode(data, type=RecordingKeyframe))
            case _:
                for frame in self.source.decode(datagram.data, datagram.recv_s):
                    self.session.judge_frame(frame)

    def tick(self) -> None:
        """Update the screens; staleness comes from the recording."""
        now_s = self.source.clock()
        self.session.advance_checklist(now_s)
        self.session.bus.publish(RunnerTicked(now_s))

    def _seek(self, keyframe: RecordingKeyframe) -> None:
        """Start a session from the state at this position."""
        self.start_session()
        self.session.judge_frame(self.receiver.restore(keyframe))
        for request in keyframe.requests:
            handle_request(self.session, request.request)


async def wait_until_played(devices: Sequence[Device]) -> None:
    """Wait until every recording was played; never returns if a device is a simulator."""
    runners = [device.runner for device in devices]
    while not all(isinstance(runner, ReplayRunner) and runner.is_finished() for runner in runners):  # noqa: ASYNC110 - the end depends on the playback's clock
        await asyncio.sleep(TICK_S)
    await asyncio.sleep(TICK_S)
