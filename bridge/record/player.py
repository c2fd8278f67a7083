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

from bridge.control import Request
from bridge.record.form import BUNDLE, FRAME, HEAD, TICK, RequestForm, TickForm, encode
from bridge.record.frames import Fold
from bridge.record.reader import MessageReader, Recording
from bridge.record.rows import Row
from rules.signals.model import Frame

JUMP = "/jump"
"""The channel, in no file, of the picture with which playing begins at another place."""
SLOWEST, FASTEST = 0.05, 1000.0
_TICK = msgspec.json.Decoder(TickForm)


class Player:
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
        from_s: float = 0.0,
        to_s: float = math.inf,
        speed: float = 1.0,
    ) -> None:
        """Play from now on.

        Args:
            recording: What to play.
            clock: The monotonic clock in seconds.
            from_s: Where to begin.
            to_s: Where to end.
            speed: Recorded seconds in one of the clock.
        """
        self.recording, self.to_s = recording, to_s
        self.playing, self.ended = True, False
        self.changed: Callable[[], None] = lambda: None
        self.speed = _bounded(speed)
        self._clock = clock
        self._jumped = from_s > 0
        self._first: list[Row] = []
        self._next: tuple[float, Row] | None = None
        self._go_to(from_s)

    @property
    def position_s(self) -> float:
        """The place now."""
        if not self.playing or self.ended:
            return self._place_s
        return self._place_s + (self._clock() - self._since_s) * self.speed

    def play(self) -> None:
        """Go on; at the end, from the beginning."""
        if self.ended:
            self._go_to(0.0)
        self._since_s, self.playing = self._clock(), True
        self.changed()

    def pause(self) -> None:
        """Stand still."""
        self._place_s, self.playing = self.position_s, False
        self.changed()

    def at_speed(self, speed: float) -> None:
        """Go on faster or slower, within `SLOWEST` and `FASTEST`."""
        self._place_s, self._since_s = self.position_s, self._clock()
        self.speed = _bounded(speed)
        self.changed()

    def seek(self, position_s: float) -> None:
        """Go to another place, forward or back; it goes on playing there if it was."""
        self._go_to(position_s)
        self.changed()

    def due(self, most: int = 256) -> list[Row]:
        """The messages that are due now, the oldest first, at most so many."""
        rows, self._first = self._first, []
        now_s = min(self.position_s, self.to_s)
        while len(rows) < most and self._next is not None and self._next[0] <= now_s:
            rows.append(self._next[1])
            self._next = next(self._coming, None)
        if self._next is None or self._next[0] > self.to_s:
            self._place_s, self.ended = min(self.position_s, self.to_s), True
        return rows

    def wait_s(self) -> float | None:
        """Seconds of the clock until the next message is due; None while it stands still or has ended."""
        if self._first:
            return 0.0
        if not self.playing or self.ended or self._next is None:
            return None
        return max(0.0, (self._next[0] - self.position_s) / self.speed)

    def length_s(self) -> float:
        """How long the recording is; reads it through."""
        return max((at_s for at_s, _ in _timed(self.recording)), default=0.0)

    def _go_to(self, position_s: float) -> None:
        """Begin at a place."""
        self._place_s, self._since_s, self.ended = max(0.0, position_s), self._clock(), False
        self._coming = _timed(self.recording)
        self._next = next(self._coming, None)
        self._first = self._gone_by() if self._jumped else []
        self._jumped = True

    def _gone_by(self) -> list[Row]:
        """What has to be known of all that lies before the place: names, and a picture."""
        fold, reader, bundles, last = Fold(), MessageReader(), list[Row](), None
        while self._next is not None and self._next[0] < self._place_s:
            last = self._next[1]
            if last.topic == BUNDLE:
                bundles.append(last)
            _remember(fold, reader.what(last), last.utc)
            self._next = next(self._coming, None)
        utc, sim_s = (last.utc, last.sim_s) if last is not None else (self.recording.head.began_utc, 0.0)
        return [*bundles, Row(JUMP, 0, utc, sim_s, encode(fold.picture()))]


def _remember(fold: Fold, what: object, utc: float) -> None:
    """Add one thing to how all stands."""
    match what:
        case Frame():
            fold.take(what)
        case Request():
            fold.ask(RequestForm(utc, what.verb, what.name, what.by, what.reason, what.device))
        case _:
            fold.hear(what)


def _timed(recording: Recording) -> Iterator[tuple[float, Row]]:
    """What goes into a session, each with its place; what came out only marks how calls stand."""
    first_s: float | None = None
    at_s = 0.0
    for row in recording.rows():
        if row.topic in (FRAME, TICK):
            recv_s = _TICK.decode(row.data).recv_s
            first_s = recv_s if first_s is None else first_s
            at_s = max(at_s, recv_s - first_s)
        if row.topic != HEAD:
            yield at_s, row


def _bounded(speed: float) -> float:
    return min(max(speed, SLOWEST), FASTEST) if math.isfinite(speed) else 1.0
