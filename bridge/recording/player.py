"""Plays a recording on a clock: start, pause, seek and speed.

The position is in seconds since the first frame, on the clock by which frames arrived; a message without such a time
(a request) has the position of the message before it.  A seek reads the recording from its beginning to the new
position (about a second for an hour) and then delivers a keyframe, from which a new session starts.

    recording   f0 ---- f1 ---- f2 ---- f3 ---- f4      seek(2.5)
    delivered   [bundles] [keyframe of f0..f2]  f3 at 3.0, f4 at 4.0

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
from bridge.session.requests import Request
from rules.signals.model import Frame

SEEK = "/seek"
"""The channel, in no file, of the keyframe that is delivered after a seek."""
MIN_SPEED, MAX_SPEED = 0.05, 1000.0
_TICK_DECODER = msgspec.json.Decoder(TickMessage)


class RecordingPlayer:
    """Plays one recording.

    Attributes:
        recording: The recording.
        end_s: The position at which playback ends.
        playing: False while paused.
        speed: Recorded seconds in one second of the clock.
        ended: True after the last message.
        on_change: Called when the playback is started, paused or moved, or its speed is set.
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
            recording: The recording.
            clock: The monotonic clock in seconds.
            start_s: The position at which to start.
            end_s: The position at which to end.
            speed: Recorded seconds in one second of the clock.
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
        """The present position in seconds."""
        if not self.playing or self.ended:
            return self._position_s
        return self._position_s + (self._clock() - self._since_s) * self.speed

    def play(self) -> None:
        """Continue; after the end, start from the beginning."""
        if self.ended:
            self._move_to(0.0)
        self._since_s, self.playing = self._clock(), True
        self.on_change()

    def pause(self) -> None:
        """Stop at the present position."""
        self._position_s, self.playing = self.position_s, False
        self.on_change()

    def set_speed(self, speed: float) -> None:
        """Set the speed, limited to `MIN_SPEED` and `MAX_SPEED`."""
        self._position_s, self._since_s = self.position_s, self._clock()
        self.speed = _clamped_speed(speed)
        self.on_change()

    def seek(self, position_s: float) -> None:
        """Move to another position; playing or paused stays as it was."""
        self._move_to(position_s)
        self.on_change()

    def due_messages(self, limit: int = 256) -> list[McapMessage]:
        """Return the messages that are due now, the oldest first, at most `limit`."""
        messages, self._preamble = self._preamble, []
        now_s = min(self.position_s, self.end_s)
        while len(messages) < limit and self._next is not None and self._next[0] <= now_s:
            messages.append(self._next[1])
            self._next = next(self._messages, None)
        if self._next is None or self._next[0] > self.end_s:
            self._position_s, self.ended = min(self.position_s, self.end_s), True
        return messages

    def next_due_s(self) -> float | None:
        """Return clock seconds until the next message is due; None while paused or ended."""
        if self._preamble:
            return 0.0
        if not self.playing or self.ended or self._next is None:
            return None
        return max(0.0, (self._next[0] - self.position_s) / self.speed)

    def duration_s(self) -> float:
        """Read the whole recording and return its duration in seconds."""
        return max((at_s for at_s, _ in _timed_messages(self.recording)), default=0.0)

    def _move_to(self, position_s: float) -> None:
        """Start at a position."""
        self._position_s, self._since_s, self.ended = max(0.0, position_s), self._clock(), False
        self._messages = _timed_messages(self.recording)
        self._next = next(self._messages, None)
        self._preamble = self._state_before() if self._include_preamble else []
        self._include_preamble = True

    def _state_before(self) -> list[McapMessage]:
        """Return the bundles before the position, and a keyframe with the state at it."""
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
    """Fold one input or event into a keyframe."""
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
    """Yield each message except heads with its position in seconds."""
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
