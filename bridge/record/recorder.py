"""Records the sessions of one device: hears them in the loop, writes in a thread, and never stands in the way.

What is heard goes into a queue, in the order of its judging.  The thread looks some times a second.  Where it cannot keep up, frames and
ticks beyond `MOST_WAITING` are counted and left out (what they said in the end is kept); requests, entries and notes never are.
Where the disk is nearly full, or fails, recording stops with words for people; watching goes on.

    recorder = Recorder(folder, limits)
    rig.attend(lambda session: recorder.begin(session, head_of(rig, session)))

Takes: sessions.  Gives: recordings in a folder, `words` and `trouble`.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import structlog

from bridge.inputs import Heeded, Input, Ticked
from bridge.notes import Told
from bridge.record.form import Head
from bridge.record.frames import Fold
from bridge.record.shelf import free_bytes, make_room, stem_for, total
from bridge.record.writer import SYNC_S, Gap, Item, Limits, Opener, Tape, open_new
from bridge.session import Session
from rules.signals.model import Frame

LOOK_S = 0.2
MOST_WAITING = 4000
"""Frames at 20 a second for more than three minutes."""
CLOSE_WITHIN_S = 5.0
EARLY = 4
"""So many times what recording needs is when it is said that the disk is nearly full."""
_MB = 1_000_000

_Order: TypeAlias = Item | Head


class Recorder:
    """Writes each session that it is given into a recording of its own.

    Attributes:
        trouble: Why nothing is recorded any more; '' while all is well.
        warning: That the disk is nearly full; '' while there is room.
        lost: Frames and ticks that there was no room for.
    """

    def __init__(
        self,
        folder: Path,
        limits: Limits | None = None,
        *,
        opener: Opener = open_new,
        free: Callable[[Path], int] = free_bytes,
        clock: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
    ) -> None:
        """Nothing runs yet.

        Args:
            folder: Where recordings go; it exists.
            limits: Of sizes.
            opener: Opens a new file.
            free: The bytes that a disk has left.
            clock: The monotonic clock in seconds.
            wall: Seconds since 1970.
        """
        self.trouble = ""
        self.warning = ""
        self.lost = 0
        self._folder, self._limits = folder, limits or Limits()
        self._opener, self._free, self._clock, self._wall = opener, free, clock, wall
        self._waiting: deque[_Order] = deque()
        self._sequence = 0
        self._utc = 0.0
        self._gap: Gap | None = None
        self._tape: Tape | None = None
        self._checked_s = -SYNC_S
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self._log = structlog.get_logger("recording")

    # -- in the loop --------------------------------------------------------------------------------

    def begin(self, session: Session, head: Head) -> None:
        """Record a session from now on, and the one before no more."""
        self._sequence, self._gap, self._utc = 0, None, head.began_utc
        self._waiting.append(head)
        session.inputs.append(self._hear)
        session.listen(self._told)

    def _hear(self, heard: Input) -> None:
        """Take an input."""
        what = heard.what
        if isinstance(what, Frame | Ticked) and self._crowded():
            self._leave_out(heard.utc, what)
            return
        self._utc = heard.utc
        self._put(heard.utc, what)

    def _told(self, told: Told) -> None:
        """Take an entry or note; its moment is that of the input that brought it about."""
        self._put(getattr(told, "utc", self._utc), told)

    def _put(self, utc: float, what: Heeded | Told) -> None:
        if self._gap is not None:
            gap, self._gap = self._gap, None
            self._sequence += 1
            self._waiting.append(Item(self._sequence, utc, gap))
        self._sequence += 1
        self._waiting.append(Item(self._sequence, utc, what))

    def _crowded(self) -> bool:
        """Whether frames have to be left out: from the limit on, until half of it is written."""
        waiting = len(self._waiting)
        return waiting >= MOST_WAITING or (self._gap is not None and waiting > MOST_WAITING // 2)

    def _leave_out(self, utc: float, what: Frame | Ticked) -> None:
        """Count what there is no room for; what a frame said is kept, since the next ones build on it."""
        self.lost += 1
        gap = self._gap or Gap(0, 0, utc, Fold())
        if isinstance(what, Frame):
            gap.fold.take(what)
            gap = gap._replace(frames=gap.frames + 1)
        else:
            gap = gap._replace(ticks=gap.ticks + 1)
        self._gap = gap

    @property
    def words(self) -> str:
        """One sentence on how recording stands."""
        if self.trouble:
            return self.trouble
        tape = self._tape
        if tape is None:
            return "nothing is recorded yet"
        lost = f"; {self.lost} frames could not be kept" if self.lost else ""
        return f"recording {tape.stem}, {tape.size / _MB:.1f} MB{lost}"

    def start(self) -> None:
        """Start the thread."""
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._thread.start()

    def close(self, within_s: float = CLOSE_WITHIN_S) -> bool:
        """Write what waits and end the file; whether that came to its end in time."""
        self._over.set()
        if self._thread is None:
            return True
        self._thread.join(within_s)
        if self._thread.is_alive():
            self._log.warning("recording not ended", waiting=len(self._waiting))
        return not self._thread.is_alive()

    # -- in the thread ------------------------------------------------------------------------------

    def _run(self) -> None:
        while not self._over.wait(LOOK_S):
            self.work()
        self.finish()

    def work(self) -> None:
        """Write what waits, and look after the files; never raises."""
        try:
            while self._waiting:
                self._do(self._waiting.popleft())
            if self._tape is not None:
                self._tape.look()
                self._check()
        except OSError as error:
            self._stop(f"the disk failed: {error.strerror or error}")
        except Exception as error:  # noqa: BLE001 - whatever it is, watching goes on
            self._stop(f"a fault of the program: {error!r}")

    def finish(self) -> None:
        """Write what waits and end the file; never raises."""
        self.work()
        tape, self._tape = self._tape, None
        try:
            if tape is not None:
                tape.close()
        except OSError as error:
            self._stop(f"the disk failed: {error.strerror or error}")

    def _do(self, order: _Order) -> None:
        """Begin a recording, or add to it."""
        if isinstance(order, Head):
            self._turn_to(order)
        elif self._tape is not None:
            self._tape.take(order)
            self._tape.look()  # also in the middle of a long queue

    def _turn_to(self, head: Head) -> None:
        """End the present recording and begin another, where there is room."""
        tape, self._tape = self._tape, None
        if tape is not None:
            tape.close()
        self.trouble, self._checked_s = "", self._clock()
        stem = stem_for(head.began_utc, head.device, head.session)
        if self._room():
            self._tape = Tape(
                self._folder,
                stem,
                head,
                part=self._limits.part,
                opener=self._opener,
                clock=self._clock,
            )

    def _check(self) -> None:
        """Now and then: is there still room?"""
        if self._clock() - self._checked_s >= SYNC_S:
            self._checked_s = self._clock()
            if not self._room() and self._tape is not None:
                tape, self._tape = self._tape, None
                tape.close()

    def _room(self) -> bool:
        """Whether there is room; the oldest recordings give way first."""
        running = [self._tape.stem] if self._tape is not None else []
        least, budget = self._limits.least_free, self._limits.budget
        for stem in make_room(self._folder, budget, running, self._wall):
            self._log.warning("oldest recording removed", recording=stem, budget=budget)
        free = self._free(self._folder)
        self._warn(free, least)
        if free < least:
            self._say(f"the disk is nearly full: {free // _MB} MB left, recording needs {least // _MB} MB")
        elif running and total(self._folder) > budget:
            self._say(f"this recording alone fills the {budget // _MB} MB that recordings may take")
        return not self.trouble

    def _warn(self, free: int, least: int) -> None:
        """Say early that recording will stop."""
        if free >= EARLY * least:
            self.warning = ""
        elif not self.warning:
            self.warning = f"the disk is nearly full: {free // _MB} MB left; recording stops at {least // _MB} MB ({self._folder})"
            self._log.warning("disk nearly full", free=free, least=least, folder=str(self._folder))

    def _stop(self, why: str) -> None:
        """Record no more of this session."""
        tape, self._tape = self._tape, None
        if tape is not None:
            tape.abandon()
        self._say(why)

    def _say(self, why: str) -> None:
        self.trouble = f"recording has stopped: {why} ({self._folder}); watching goes on"
        self._log.warning("recording stopped", why=why, folder=str(self._folder))
