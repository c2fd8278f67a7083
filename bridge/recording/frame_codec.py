"""Encodes frames as messages, decodes them, and folds inputs and events into keyframes.

Takes: frames, events, requests.  Gives: messages, each with its bundle of names; the same frames from messages;
keyframes with the complete state.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from bridge.recording.file_format import (
    FrameMessage,
    NameBundle,
    RecordingKeyframe,
    RequestMessage,
    is_plain_value,
)
from rules.judge.events import CallEntered, CallUndone, MonitorsReset
from rules.signals.model import Frame, Quality, Sample, Value

LASTING_VERBS = frozenset({"amend", "waive", "undo_waiver", "confirm", "assign_seat"})
"""Requests whose effect lasts until the session ends; a keyframe repeats them."""
_FRESH, _INVALID = Quality.FRESH, Quality.INVALID


class FrameEncoder:
    """Encodes frames, and remembers which bundles of names are already in this part of a recording."""

    def __init__(self) -> None:
        self._bundles: dict[tuple[str, tuple[str, ...]], int] = {}
        self._last: tuple[str, Sequence[str], int] = ("", (), -1)
        self._bundles_written = 0

    def encode(self, frame: Frame) -> tuple[NameBundle | None, FrameMessage]:
        """Encode a frame.

        Returns:
            The bundle that must be written before the message, None if it is in the file; and the message.
        """
        number, bundle = self._bundle_for(frame.link, frame.carried)
        calls, changes, missing = (
            tuple(frame.calls), frame.changes, (frame.missing_from_s, frame.missing_records),
        )  # fmt: skip
        values: dict[str, Value | None] = {}
        for name, value, quality, sim_s in changes:
            plain = is_plain_value(value) if quality is _FRESH else value is None and quality is _INVALID
            if not plain or sim_s != frame.sim_s:
                break
            values[name] = value
        if len(values) == len(changes):
            message = FrameMessage(
                frame.sim_s, frame.recv_s, frame.epoch, number, values, calls, (), *missing
            )
            return bundle, message
        unusual = tuple(_full_sample(sample) for sample in changes)
        message = FrameMessage(frame.sim_s, frame.recv_s, frame.epoch, number, {}, calls, unusual, *missing)
        return bundle, message

    def _bundle_for(self, link: str, carried: Sequence[str]) -> tuple[int, NameBundle | None]:
        """Return the number of the bundle of these names, and the bundle itself if it is new."""
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
    """Return all fields of a sample; NaN and infinity become invalid, as in the signal state."""
    name, value, quality, sim_s = sample
    if isinstance(value, float) and value - value != 0:
        return name, None, _INVALID, sim_s
    return name, value, quality, sim_s


class StoredFrame(NamedTuple):
    """A frame as it is stored, with its bundle of names; who needs samples makes them by `frame`."""

    message: FrameMessage
    bundle: NameBundle

    def frame(self) -> Frame:
        """Make the frame."""
        (message, bundle), new = self, tuple.__new__
        sim_s = message.sim_s
        changes = [
            new(Sample, (name, value, _INVALID if value is None else _FRESH, sim_s))
            for name, value in message.values.items()
        ]
        changes += [Sample(*unusual) for unusual in message.samples]
        return Frame(
            bundle.link,
            sim_s,
            message.recv_s,
            message.epoch,
            bundle.names,
            changes,
            message.calls,
            message.missing_from_s,
            message.missing_records,
        )


class FrameDecoder:
    """Decodes frames; all frames of one bundle share its tuple of names."""

    def __init__(self) -> None:
        self._bundles: dict[int, NameBundle] = {}

    def add_bundle(self, bundle: NameBundle) -> None:
        """Store a bundle for the frames that refer to it."""
        self._bundles[bundle.number] = bundle

    def decode(self, message: FrameMessage) -> Frame:
        """Decode a frame.

        Raises:
            KeyError: Its bundle was not read.
        """
        return self.stored(message).frame()

    def stored(self, message: FrameMessage) -> StoredFrame:
        """Join a frame with its bundle, without making its samples.

        Raises:
            KeyError: Its bundle was not read.
        """
        return StoredFrame(message, self._bundles[message.bundle])


class KeyframeBuilder:
    """Folds inputs and events into the complete state, so that reading can start in the middle.

    frame 1   beacon off             values {beacon: off}
    call      push_approved          calls  (push_approved)
    frame 2   beacon on              values {beacon: on}
    undo      push_approved          calls  ()
    frame 3   another epoch, n1 20   values {n1: 20}: older values are dropped
    """

    def __init__(self) -> None:
        self.values: dict[str, Value | None] = {}
        self.calls: list[str] = []
        self.requests: list[RequestMessage] = []
        self.epoch = 0
        self.sim_s = self.recv_s = 0.0

    def add_frame(self, frame: Frame) -> None:
        """Fold one frame; a new epoch clears all values."""
        if frame.epoch != self.epoch:
            self.values.clear()
            self.epoch = frame.epoch
        for name, value, quality, _ in frame.changes:
            self.values[name] = value if quality is _FRESH else None
        self.sim_s, self.recv_s = frame.sim_s, frame.recv_s

    def add_event(self, event: object) -> None:
        """Fold an event that changes which calls are entered."""
        match event:
            case CallEntered(call=call):
                self.calls.append(call)
            case CallUndone(call=call) if call in self.calls:
                del self.calls[len(self.calls) - 1 - self.calls[::-1].index(call)]
            case MonitorsReset():
                self.calls.clear()
                self.requests = [each for each in self.requests if each.verb != "confirm"]

    def add_request(self, request: RequestMessage) -> None:
        """Keep a request whose effect lasts."""
        if request.verb in LASTING_VERBS:
            self.requests.append(request)

    def merge(self, later: KeyframeBuilder) -> None:
        """Fold the later frames that another builder has folded."""
        if later.epoch != self.epoch:
            self.values.clear()
        self.values |= later.values
        self.epoch, self.sim_s, self.recv_s = later.epoch, later.sim_s, later.recv_s

    def keyframe(self) -> RecordingKeyframe:
        """Return the state now."""
        values = {
            name: value if is_plain_value(value) else _nearest_number(value)
            for name, value in self.values.items()
        }
        return RecordingKeyframe(
            self.sim_s, self.recv_s, self.epoch, values, tuple(self.calls), tuple(self.requests)
        )

    def restore(self, keyframe: RecordingKeyframe) -> None:
        """Start from the state of a keyframe."""
        self.values, self.calls = dict(keyframe.values), list(keyframe.calls)
        self.requests = list(keyframe.requests)
        self.sim_s, self.recv_s, self.epoch = keyframe.sim_s, keyframe.recv_s, keyframe.epoch


def _nearest_number(value: Value | None) -> float | None:
    """Convert a value without a plain form to a float, None where there is no number."""
    if value is None or isinstance(value, str) or not math.isfinite(value):
        return None
    return float(value)


def keyframe_to_frame(
    keyframe: RecordingKeyframe,
    link: str,
    calls: Iterable[str],
    missing_from_s: float | None = None,
    missing_records: int | None = None,
) -> Frame:
    """Convert a keyframe to a frame that carries every value; the frames from `missing_from_s` on were not recorded."""
    samples = [
        Sample(name, value, _INVALID if value is None else _FRESH, keyframe.sim_s)
        for name, value in keyframe.values.items()
    ]
    return Frame(
        link,
        keyframe.sim_s,
        keyframe.recv_s,
        keyframe.epoch,
        tuple(keyframe.values),
        samples,
        tuple(calls),
        missing_from_s,
        missing_records,
    )
