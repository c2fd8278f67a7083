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

from bridge.recording.file_format import RecordingHead
from bridge.recording.frame_codec import KeyframeBuilder
from bridge.recording.retention import free_bytes, prune_to_budget, recording_stem, total_bytes
from bridge.recording.writer import (
    SYNC_S,
    FileOpener,
    RecorderItem,
    RecordingGap,
    RecordingLimits,
    RecordingWriter,
    open_private,
)
from bridge.session.session import Session
from bridge.session.session_events import SessionEvent
from bridge.session.session_input import ClockTick, SessionInput, TimedInput
from rules.signals.model import Frame

POLL_INTERVAL_S = 0.2
MAX_QUEUED = 4000
"""Frames at 20 a second for more than three minutes."""
CLOSE_TIMEOUT_S = 5.0
WARNING_FACTOR = 4
"""So many times what recording needs is when it is said that the disk is nearly full."""
_MB = 1_000_000

_Queued: TypeAlias = RecorderItem | RecordingHead


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
        limits: RecordingLimits | None = None,
        *,
        opener: FileOpener = open_private,
        free_bytes: Callable[[Path], int] = free_bytes,
        clock: Callable[[], float] = time.monotonic,
        wall_clock: Callable[[], float] = time.time,
    ) -> None:
        """Nothing runs yet.

        Args:
            folder: Where recordings go; it exists.
            limits: Of sizes.
            opener: Opens a new file.
            free_bytes: The bytes that a disk has left.
            clock: The monotonic clock in seconds.
            wall_clock: Seconds since 1970.
        """
        self.problem = ""
        self.warning = ""
        self.lost_count = 0
        self._folder, self._limits = folder, limits or RecordingLimits()
        self._opener, self._free_bytes, self._clock, self._wall_clock = opener, free_bytes, clock, wall_clock
        self._queue: deque[_Queued] = deque()
        self._sequence = 0
        self._utc = 0.0
        self._gap: RecordingGap | None = None
        self._writer: RecordingWriter | None = None
        self._checked_s = -SYNC_S
        self._stop_event = threading.Event()
        self._thread: threading.Thread | None = None
        self._log = structlog.get_logger("recording")

    # -- in the loop --------------------------------------------------------------------------------

    def start_session(self, session: Session, head: RecordingHead) -> None:
        """Record a session from now on, and the one before no more."""
        self._sequence, self._gap, self._utc = 0, None, head.began_utc
        self._queue.append(head)
        session.input_listeners.append(self._on_input)
        session.add_listener(self._on_event)

    def _on_input(self, timed_input: TimedInput) -> None:
        """Take an input."""
        what = timed_input.content
        if isinstance(what, Frame | ClockTick) and self._is_crowded():
            self._count_lost(timed_input.utc, what)
            return
        self._utc = timed_input.utc
        self._enqueue(timed_input.utc, what)

    def _on_event(self, event: SessionEvent) -> None:
        """Take an entry or note; its moment is that of the input that brought it about."""
        self._enqueue(getattr(event, "utc", self._utc), event)

    def _enqueue(self, utc: float, content: SessionInput | SessionEvent) -> None:
        if self._gap is not None:
            gap, self._gap = self._gap, None
            self._sequence += 1
            self._queue.append(RecorderItem(self._sequence, utc, gap))
        self._sequence += 1
        self._queue.append(RecorderItem(self._sequence, utc, content))

    def _is_crowded(self) -> bool:
        """Whether frames have to be left out: from the limit on, until half of it is written."""
        waiting = len(self._queue)
        return waiting >= MAX_QUEUED or (self._gap is not None and waiting > MAX_QUEUED // 2)

    def _count_lost(self, utc: float, content: Frame | ClockTick) -> None:
        """Count what there is no room for; what a frame said is kept, since the next ones build on it."""
        self.lost_count += 1
        gap = self._gap or RecordingGap(0, 0, utc, KeyframeBuilder())
        if isinstance(content, Frame):
            gap.keyframe.add_frame(content)
            gap = gap._replace(frames=gap.frames + 1)
        else:
            gap = gap._replace(ticks=gap.ticks + 1)
        self._gap = gap

    @property
    def status_text(self) -> str:
        """One sentence on how recording stands."""
        if self.problem:
            return self.problem
        tape = self._writer
        if tape is None:
            return "nothing is recorded yet"
        lost = f"; {self.lost_count} frames could not be kept" if self.lost_count else ""
        return f"recording {tape.stem}, {tape.size / _MB:.1f} MB{lost}"

    def start(self) -> None:
        """Start the thread."""
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._thread.start()

    def close(self, timeout_s: float = CLOSE_TIMEOUT_S) -> bool:
        """Write what waits and end the file; whether that came to its end in time."""
        self._stop_event.set()
        if self._thread is None:
            return True
        self._thread.join(timeout_s)
        if self._thread.is_alive():
            self._log.warning("recording not ended", waiting=len(self._queue))
        return not self._thread.is_alive()

    # -- in the thread ------------------------------------------------------------------------------

    def _run(self) -> None:
        while not self._stop_event.wait(POLL_INTERVAL_S):
            self.write_queued()
        self.finish()

    def write_queued(self) -> None:
        """Write what waits, and look after the files; never raises."""
        try:
            while self._queue:
                self._write_one(self._queue.popleft())
            if self._writer is not None:
                self._writer.maintain()
                self._check_space()
        except OSError as error:
            self._stop_recording(f"the disk failed: {error.strerror or error}")
        except Exception as error:  # noqa: BLE001 - whatever it is, watching goes on
            self._stop_recording(f"a fault of the program: {error!r}")

    def finish(self) -> None:
        """Write what waits and end the file; never raises."""
        self.write_queued()
        tape, self._writer = self._writer, None
        try:
            if tape is not None:
                tape.close()
        except OSError as error:
            self._stop_recording(f"the disk failed: {error.strerror or error}")

    def _write_one(self, queued: _Queued) -> None:
        """Begin a recording, or add to it."""
        if isinstance(queued, RecordingHead):
            self._start_recording(queued)
        elif self._writer is not None:
            self._writer.write(queued)
            self._writer.maintain()  # also in the middle of a long queue

    def _start_recording(self, head: RecordingHead) -> None:
        """End the present recording and begin another, where there is room."""
        tape, self._writer = self._writer, None
        if tape is not None:
            tape.close()
        self.problem, self._checked_s = "", self._clock()
        stem = recording_stem(head.began_utc, head.device, head.session)
        if self._make_space():
            self._writer = RecordingWriter(
                self._folder,
                stem,
                head,
                part_bytes=self._limits.part_bytes,
                opener=self._opener,
                clock=self._clock,
            )

    def _check_space(self) -> None:
        """Now and then: is there still room?"""
        if self._clock() - self._checked_s >= SYNC_S:
            self._checked_s = self._clock()
            if not self._make_space() and self._writer is not None:
                tape, self._writer = self._writer, None
                tape.close()

    def _make_space(self) -> bool:
        """Whether there is room; the oldest recordings give way first."""
        running = [self._writer.stem] if self._writer is not None else []
        least, budget = self._limits.min_free_bytes, self._limits.budget_bytes
        for stem in prune_to_budget(self._folder, budget, running, self._wall_clock):
            self._log.warning("oldest recording removed", recording=stem, budget=budget)
        free = self._free_bytes(self._folder)
        self._update_warning(free, least)
        if free < least:
            self._report_problem(
                f"the disk is nearly full: {free // _MB} MB left, recording needs {least // _MB} MB"
            )
        elif running and total_bytes(self._folder) > budget:
            self._report_problem(
                f"this recording alone fills the {budget // _MB} MB that recordings may take"
            )
        return not self.problem

    def _update_warning(self, free: int, least: int) -> None:
        """Say early that recording will stop."""
        if free >= WARNING_FACTOR * least:
            self.warning = ""
        elif not self.warning:
            self.warning = f"the disk is nearly full: {free // _MB} MB left; recording stops at {least // _MB} MB ({self._folder})"
            self._log.warning("disk nearly full", free=free, least=least, folder=str(self._folder))

    def _stop_recording(self, why: str) -> None:
        """Record no more of this session."""
        tape, self._writer = self._writer, None
        if tape is not None:
            tape.abandon()
        self._report_problem(why)

    def _report_problem(self, why: str) -> None:
        self.problem = f"recording has stopped: {why} ({self._folder}); watching goes on"
        self._log.warning("recording stopped", why=why, folder=str(self._folder))
