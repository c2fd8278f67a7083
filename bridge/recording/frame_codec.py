"""Frames to messages and back, and the sum of all that was said.

Takes: frames, entries, requests.  Gives: messages, with the bundle of names that each refers to; from messages the
same frames; pictures of how all stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from bridge.recording.file_format import (
    FrameMessage,
    NameBundle,
    RecordingKeyframe,
    RequestMessage,
    is_plain_value,
)
from rules.judge.events import CallEntered, CallUndone, MonitorsReset
from rules.signals.model import Frame, Quality, Sample, Value

LASTING_VERBS = frozenset({"amend", "excuse", "confirm", "seat"})
"""Requests whose effect lasts."""
_FRESH, _INVALID = Quality.FRESH, Quality.INVALID


class FrameEncoder:
    """Makes messages of frames; knows which bundles of names this part of a recording has already."""

    def __init__(self) -> None:
        """No bundle written yet."""
        self._bundles: dict[tuple[str, tuple[str, ...]], int] = {}
        self._last: tuple[str, Sequence[str], int] = ("", (), -1)
        self._bundles_written = 0

    def encode(self, frame: Frame) -> tuple[NameBundle | None, FrameMessage]:
        """The message of a frame, and the bundle that has to be written before it, None where it has been."""
        number, bundle = self._bundle_for(frame.link, frame.carried)
        calls, changes = tuple(frame.calls), frame.changes
        values: dict[str, Value | None] = {}
        for name, value, quality, sim_s in changes:
            plain = is_plain_value(value) if quality is _FRESH else value is None and quality is _INVALID
            if not plain or sim_s != frame.sim_s:
                break
            values[name] = value
        if len(values) == len(changes):
            return bundle, FrameMessage(frame.sim_s, frame.recv_s, frame.epoch, number, values, calls)
        odd = tuple(_full_sample(sample) for sample in changes)
        return bundle, FrameMessage(frame.sim_s, frame.recv_s, frame.epoch, number, {}, calls, odd)

    def _bundle_for(self, link: str, carried: Sequence[str]) -> tuple[int, NameBundle | None]:
        """The number of these names; the bundle where it is new."""
        last_link, last, number = self._last
        if last is carried and last_link == link:
            return number, None
        names = tuple(carried)
        number = self._bundles.setdefault((link, names), len(self._bundles))
        self._last = (link, carried, number)
        if number < self._bundles_written:
            return number, None
        self._bundles_written += 1
        return number, NameBundle(number, link, names)


def _full_sample(sample: Sample) -> tuple[str, Value | None, Quality, float]:
    """A sample in full; a number that is none becomes invalid, which is how the state takes it."""
    name, value, quality, sim_s = sample
    if isinstance(value, float) and value - value != 0:
        return name, None, _INVALID, sim_s
    return name, value, quality, sim_s


class FrameDecoder:
    """Makes frames of messages; the frames of one bundle share its tuple of names."""

    def __init__(self) -> None:
        """No bundle read yet."""
        self._bundles: dict[int, NameBundle] = {}

    def add_bundle(self, bundle: NameBundle) -> None:
        """Note a bundle."""
        self._bundles[bundle.number] = bundle

    def decode(self, message: FrameMessage) -> Frame:
        """The frame of a message.

        Raises:
            KeyError: Its bundle was not read.
        """
        bundle, sim_s, new = self._bundles[message.bundle], message.sim_s, tuple.__new__
        changes = [
            new(Sample, (name, value, _INVALID if value is None else _FRESH, sim_s))
            for name, value in message.values.items()
        ]
        changes += [Sample(*odd) for odd in message.samples]
        return Frame(bundle.link, sim_s, message.recv_s, message.epoch, bundle.names, changes, message.calls)


class KeyframeBuilder:
    """How all stands after what was said so far, so that reading may begin in the middle."""

    def __init__(self) -> None:
        """Nothing said."""
        self.values: dict[str, Value | None] = {}
        self.calls: list[str] = []
        self.requests: list[RequestMessage] = []
        self.epoch = 0
        self.sim_s = self.recv_s = 0.0

    def add_frame(self, frame: Frame) -> None:
        """Take in one frame."""
        if frame.epoch != self.epoch:
            self.values.clear()
            self.epoch = frame.epoch
        for name, value, quality, _ in frame.changes:
            self.values[name] = value if quality is _FRESH else None
        self.sim_s, self.recv_s = frame.sim_s, frame.recv_s

    def add_event(self, event: object) -> None:
        """Take in an entry: which calls stand."""
        match event:
            case CallEntered(call=call):
                self.calls.append(call)
            case CallUndone(call=call) if call in self.calls:
                del self.calls[len(self.calls) - 1 - self.calls[::-1].index(call)]
            case MonitorsReset():
                self.calls.clear()
                self.requests = [each for each in self.requests if each.verb != "confirm"]

    def add_request(self, request: RequestMessage) -> None:
        """Take in a request, where it still matters later."""
        if request.verb in LASTING_VERBS:
            self.requests.append(request)

    def merge(self, later: KeyframeBuilder) -> None:
        """Take in the frames that another one took in later."""
        if later.epoch != self.epoch:
            self.values.clear()
        self.values |= later.values
        self.epoch, self.sim_s, self.recv_s = later.epoch, later.sim_s, later.recv_s

    def keyframe(self) -> RecordingKeyframe:
        """How all stands now."""
        values = {
            name: value if is_plain_value(value) else _nearest_number(value)
            for name, value in self.values.items()
        }
        return RecordingKeyframe(
            self.sim_s, self.recv_s, self.epoch, values, tuple(self.calls), tuple(self.requests)
        )

    def restore(self, keyframe: RecordingKeyframe) -> None:
        """Begin from a picture."""
        self.values, self.calls = dict(keyframe.values), list(keyframe.calls)
        self.requests = list(keyframe.requests)
        self.sim_s, self.recv_s, self.epoch = keyframe.sim_s, keyframe.recv_s, keyframe.epoch


def _nearest_number(value: Value | None) -> float | None:
    """A value that has no plain form, as near as there is one."""
    if value is None or isinstance(value, str) or not math.isfinite(value):
        return None
    return float(value)


def keyframe_to_frame(keyframe: RecordingKeyframe, link: str, calls: Iterable[str]) -> Frame:
    """A picture as a frame that says everything."""
    samples = [
        Sample(name, value, _INVALID if value is None else _FRESH, keyframe.sim_s)
        for name, value in keyframe.values.items()
    ]
    return Frame(
        link, keyframe.sim_s, keyframe.recv_s, keyframe.epoch, tuple(keyframe.values), samples, tuple(calls)
    )
