"""Frames to messages and back, and the sum of all that was said.

Takes: frames, entries, requests.  Gives: messages, with the bundle of names that each refers to; from messages the
same frames; pictures of how all stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from bridge.record.form import Bundle, FrameForm, PictureForm, RequestForm, plain_value
from rules.judge.entries import CallEntered, CallRetracted, MonitorsReset
from rules.signals.model import Frame, Quality, Sample, Value

LASTING = frozenset({"amend", "excuse", "confirm", "seat"})
"""Requests whose effect lasts."""
_FRESH, _INVALID = Quality.FRESH, Quality.INVALID


class Packer:
    """Makes messages of frames; knows which bundles of names this part of a recording has already."""

    def __init__(self) -> None:
        """No bundle written yet."""
        self._bundles: dict[tuple[str, tuple[str, ...]], int] = {}
        self._last: tuple[str, Sequence[str], int] = ("", (), -1)
        self._written = 0

    def pack(self, frame: Frame) -> tuple[Bundle | None, FrameForm]:
        """The message of a frame, and the bundle that has to be written before it, None where it has been."""
        number, bundle = self._bundle(frame.link, frame.carried)
        calls, changes = tuple(frame.calls), frame.changes
        values: dict[str, Value | None] = {}
        for name, value, quality, sim_s in changes:
            plain = plain_value(value) if quality is _FRESH else value is None and quality is _INVALID
            if not plain or sim_s != frame.sim_s:
                break
            values[name] = value
        if len(values) == len(changes):
            return bundle, FrameForm(frame.sim_s, frame.recv_s, frame.epoch, number, values, calls)
        odd = tuple(_odd(sample) for sample in changes)
        return bundle, FrameForm(frame.sim_s, frame.recv_s, frame.epoch, number, {}, calls, odd)

    def _bundle(self, link: str, carried: Sequence[str]) -> tuple[int, Bundle | None]:
        """The number of these names; the bundle where it is new."""
        last_link, last, number = self._last
        if last is carried and last_link == link:
            return number, None
        names = tuple(carried)
        number = self._bundles.setdefault((link, names), len(self._bundles))
        self._last = (link, carried, number)
        if number < self._written:
            return number, None
        self._written += 1
        return number, Bundle(number, link, names)


def _odd(sample: Sample) -> tuple[str, Value | None, Quality, float]:
    """A sample in full; a number that is none becomes invalid, which is how the state takes it."""
    name, value, quality, sim_s = sample
    if isinstance(value, float) and value - value != 0:
        return name, None, _INVALID, sim_s
    return name, value, quality, sim_s


class Unpacker:
    """Makes frames of messages; the frames of one bundle share its tuple of names."""

    def __init__(self) -> None:
        """No bundle read yet."""
        self._bundles: dict[int, Bundle] = {}

    def learn(self, bundle: Bundle) -> None:
        """Note a bundle."""
        self._bundles[bundle.number] = bundle

    def unpack(self, form: FrameForm) -> Frame:
        """The frame of a message.

        Raises:
            KeyError: Its bundle was not read.
        """
        bundle, sim_s, new = self._bundles[form.bundle], form.sim_s, tuple.__new__
        changes = [
            new(Sample, (name, value, _INVALID if value is None else _FRESH, sim_s))
            for name, value in form.values.items()
        ]
        changes += [Sample(*odd) for odd in form.samples]
        return Frame(bundle.link, sim_s, form.recv_s, form.epoch, bundle.names, changes, form.calls)


class Fold:
    """How all stands after what was said so far, so that reading may begin in the middle."""

    def __init__(self) -> None:
        """Nothing said."""
        self.values: dict[str, Value | None] = {}
        self.calls: list[str] = []
        self.requests: list[RequestForm] = []
        self.epoch = 0
        self.sim_s = self.recv_s = 0.0

    def take(self, frame: Frame) -> None:
        """Take in one frame."""
        if frame.epoch != self.epoch:
            self.values.clear()
            self.epoch = frame.epoch
        for name, value, quality, _ in frame.changes:
            self.values[name] = value if quality is _FRESH else None
        self.sim_s, self.recv_s = frame.sim_s, frame.recv_s

    def hear(self, told: object) -> None:
        """Take in an entry: which calls stand."""
        match told:
            case CallEntered(call=call):
                self.calls.append(call)
            case CallRetracted(call=call) if call in self.calls:
                del self.calls[len(self.calls) - 1 - self.calls[::-1].index(call)]
            case MonitorsReset():
                self.calls.clear()
                self.requests = [each for each in self.requests if each.verb != "confirm"]

    def ask(self, request: RequestForm) -> None:
        """Take in a request, where it still matters later."""
        if request.verb in LASTING:
            self.requests.append(request)

    def join(self, later: Fold) -> None:
        """Take in the frames that another one took in later."""
        if later.epoch != self.epoch:
            self.values.clear()
        self.values |= later.values
        self.epoch, self.sim_s, self.recv_s = later.epoch, later.sim_s, later.recv_s

    def picture(self) -> PictureForm:
        """How all stands now."""
        values = {
            name: value if plain_value(value) else _number(value) for name, value in self.values.items()
        }
        return PictureForm(
            self.sim_s, self.recv_s, self.epoch, values, tuple(self.calls), tuple(self.requests)
        )

    def set(self, picture: PictureForm) -> None:
        """Begin from a picture."""
        self.values, self.calls = dict(picture.values), list(picture.calls)
        self.requests = list(picture.requests)
        self.sim_s, self.recv_s, self.epoch = picture.sim_s, picture.recv_s, picture.epoch


def _number(value: Value | None) -> float | None:
    """A value that has no plain form, as near as there is one."""
    if value is None or isinstance(value, str) or not math.isfinite(value):
        return None
    return float(value)


def picture_frame(picture: PictureForm, link: str, calls: Iterable[str]) -> Frame:
    """A picture as a frame that says everything."""
    samples = [
        Sample(name, value, _INVALID if value is None else _FRESH, picture.sim_s)
        for name, value in picture.values.items()
    ]
    return Frame(
        link, picture.sim_s, picture.recv_s, picture.epoch, tuple(picture.values), samples, tuple(calls)
    )
