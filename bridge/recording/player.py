"""Plays a recording by a clock: play, pause, another speed, another place.

The place is in seconds since the first frame, on the clock by which frames arrived; what has no such time (a request) comes with what
was before it.  Going to a place reads the recording from its beginning up to there (about a second for an hour) and then gives a picture
of how all stood: whoever judges begins anew from it, as when the simulator is put elsewhere.

Takes: a recording and a clock.  Gives: its messages when they are due.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import msgspec

from bridge.recording.file_format import (
    BUNDLE,
    FRAME,
    HEAD,
    TICK,
    RequestMessage,
    TickMessage,
    encode_message,
)
from bridge.recording.frame_codec import KeyframeBuilder
from bridge.recording.mcap_messages import McapMessage
from bridge.recording.reader import MessageDecoder, Recording
from bridge.runtime.control import Request
from rules.signals.model import Frame

SEEK = "/seek"
"""The channel, in no file, of the picture with which playing begins at another place."""
MIN_SPEED, MAX_SPEED = 0.05, 1000.0
_TICK_DECODER = msgspec.json.Decoder(TickMessage)


class RecordingPlayer:
    """One playing of a recording.

    Attributes:
        recording: What is played.
        to_s: Where it ends.
        playing: Whether it goes on.
        speed: Recorded seconds in one of the clock.
        ended: Whether there is nothing more.
        changed: Called when somebody turned a knob.
    """

    def __init__(
        self,
        recording: Recording,
        clock: Callable[[], float],
        *,
        start_s: float = 0.0,
        end_s: float = math.inf,
        speed: float = 1.0,
    ) -> None:
        """Play from now on.

        Args:
            recording: What to play.
            clock: The monotonic clock in seconds.
            start_s: Where to begin.
            end_s: Where to end.
            speed: Recorded seconds in one of the clock.
        """
        self.recording, self.end_s = recording, end_s
        self.playing, self.ended = True, False
        self.on_change: Callable[[], None] = lambda: None
        self.speed = _clamped_speed(speed)
        self._clock = clock
        self._include_preamble = start_s > 0
        self._preamble: list[McapMessage] = []
        self._next: tuple[float, McapMessage] | None = None
        self._move_to(start_s)

    @property
    def position_s(self) -> float:
        """The place now."""
        if not self.playing or self.ended:
            return self._position_s
        return self._position_s + (self._clock() - self._since_s) * self.speed

    def play(self) -> None:
        """Go on; at the end, from the beginning."""
        if self.ended:
            self._move_to(0.0)
        self._since_s, self.playing = self._clock(), True
        self.on_change()

    def pause(self) -> None:
        """Stand still."""
        self._position_s, self.playing = self.position_s, False
        self.on_change()

    def set_speed(self, speed: float) -> None:
        """Go on faster or slower, within `SLOWEST` and `FASTEST`."""
        self._position_s, self._since_s = self.position_s, self._clock()
        self.speed = _clamped_speed(speed)
        self.on_change()

    def seek(self, position_s: float) -> None:
        """Go to another place, forward or back; it goes on playing there if it was."""
        self._move_to(position_s)
        self.on_change()

    def due_messages(self, limit: int = 256) -> list[McapMessage]:
        """The messages that are due now, the oldest first, at most so many."""
        rows, self._preamble = self._preamble, []
        now_s = min(self.position_s, self.end_s)
        while len(rows) < limit and self._next is not None and self._next[0] <= now_s:
            rows.append(self._next[1])
            self._next = next(self._messages, None)
        if self._next is None or self._next[0] > self.end_s:
            self._position_s, self.ended = min(self.position_s, self.end_s), True
        return rows

    def next_due_s(self) -> float | None:
        """Seconds of the clock until the next message is due; None while it stands still or has ended."""
        if self._preamble:
            return 0.0
        if not self.playing or self.ended or self._next is None:
            return None
        return max(0.0, (self._next[0] - self.position_s) / self.speed)

    def duration_s(self) -> float:
        """How long the recording is; reads it through."""
        return max((at_s for at_s, _ in _timed_messages(self.recording)), default=0.0)

    def _move_to(self, position_s: float) -> None:
        """Begin at a place."""
        self._position_s, self._since_s, self.ended = max(0.0, position_s), self._clock(), False
        self._messages = _timed_messages(self.recording)
        self._next = next(self._messages, None)
        self._preamble = self._state_before() if self._include_preamble else []
        self._include_preamble = True

    def _state_before(self) -> list[McapMessage]:
        """What has to be known of all that lies before the place: names, and a picture."""
        fold, reader, bundles, last = KeyframeBuilder(), MessageDecoder(), list[McapMessage](), None
        while self._next is not None and self._next[0] < self._position_s:
            last = self._next[1]
            if last.topic == BUNDLE:
                bundles.append(last)
            _add_to_keyframe(fold, reader.decode(last), last.utc)
            self._next = next(self._messages, None)
        utc, sim_s = (last.utc, last.sim_s) if last is not None else (self.recording.head.began_utc, 0.0)
        return [*bundles, McapMessage(SEEK, 0, utc, sim_s, encode_message(fold.keyframe()))]


def _add_to_keyframe(keyframe: KeyframeBuilder, content: object, utc: float) -> None:
    """Add one thing to how all stands."""
    match content:
        case Frame():
            keyframe.add_frame(content)
        case Request():
            keyframe.add_request(
                RequestMessage(utc, content.verb, content.name, content.by, content.reason, content.device)
            )
        case _:
            keyframe.add_event(content)


def _timed_messages(recording: Recording) -> Iterator[tuple[float, McapMessage]]:
    """What goes into a session, each with its place; what came out only marks how calls stand."""
    first_s: float | None = None
    at_s = 0.0
    for row in recording.messages():
        if row.topic in (FRAME, TICK):
            recv_s = _TICK_DECODER.decode(row.data).recv_s
            first_s = recv_s if first_s is None else first_s
            at_s = max(at_s, recv_s - first_s)
        if row.topic != HEAD:
            yield at_s, row


def _clamped_speed(speed: float) -> float:
    return min(max(speed, MIN_SPEED), MAX_SPEED) if math.isfinite(speed) else 1.0
