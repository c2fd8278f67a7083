"""Records the sessions of one device: collects in the event loop, writes in a thread, and never blocks judging.

Inputs and events go into a queue in the order of judging.  The thread empties it several times a second.  If it falls
behind, frames and ticks beyond `MAX_QUEUED` are counted and dropped (their values are folded into a keyframe);
requests and events are never dropped.  If the disk is nearly full or fails, recording stops with a message; watching
continues.  What is judged then waits in the queue, and every `RETRY_S` another part is tried: it begins with what waits.

    recorder = Recorder(folder, limits)
    device.on_each_session(lambda created: recorder.start_session(created.session, make_head(device, created.session)))

Takes: sessions.  Gives: recordings in a folder, `status_text` and `problem`.
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
from bridge.recording.recording_budget import MB, free_bytes, over_share, prune_to_budget, recording_stem
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
from bridge.session.session_events import KINDS, SessionEvent
from bridge.session.session_input import ClockTick, InputReceived, SessionInput
from rules.signals.model import Frame

POLL_INTERVAL_S = 0.2
MAX_QUEUED = 4000
"""More than three minutes of frames at 20 a second."""
RETRY_S = 5.0
"""Seconds until the first attempt to record again after a failure; each further failure doubles them."""
MAX_RETRY_S = 320.0
MAX_WAITING = 4 * MAX_QUEUED
"""Frames, requests and events that wait for the disk; with more, the session is not recorded any more."""
RESUME_FACTOR = 1.25
"""Recording begins again where the free space is this multiple of the minimum."""
CLOSE_TIMEOUT_S = 5.0
WARNING_FACTOR = 4
"""Warn when free space falls below this multiple of the minimum."""

_Queued: TypeAlias = RecorderItem | RecordingHead


class Recorder:
    """Writes each session into its own recording.

    Attributes:
        problem: The reason why nothing is recorded now; '' if there is none.
        warning: A warning that the disk is nearly full; '' if there is room.
        lost_count: Frames and ticks that were dropped.
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
        """Prepare the recorder; `start` starts its thread.

        Args:
            folder: The folder of recordings, which exists.
            limits: Limits of file sizes and disk space.
            opener: Opens a new file.
            free_bytes: Returns the free bytes of a disk.
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
        self._retry_s, self._pause_s = 0.0, RETRY_S
        self._is_over_budget = False
        self._stop_event = threading.Event()
        self._thread: threading.Thread | None = None
        self._log = structlog.get_logger("recording")

    # -- called in the event loop --------------------------------------------------------------------------------

    def start_session(self, session: Session, head: RecordingHead) -> None:
        """Record a session from now on, and stop recording the one before."""
        self._sequence, self._gap, self._utc = 0, None, head.began_utc
        self._queue.append(head)
        session.bus.subscribe(self._on_input, InputReceived, durable=True, one_session=True)
        session.bus.subscribe(self._on_event, *KINDS, one_session=True)

    def _on_input(self, received: InputReceived) -> None:
        """Queue an input, or count it as lost."""
        utc, content = received
        if isinstance(content, Frame | ClockTick) and self._is_crowded():
            self._count_lost(utc, content)
            return
        self._utc = utc
        self._enqueue(utc, content)

    def _on_event(self, event: SessionEvent) -> None:
        """Queue an event with the time of the input that caused it."""
        self._enqueue(getattr(event, "utc", self._utc), event)

    def _enqueue(self, utc: float, content: SessionInput | SessionEvent) -> None:
        if self._gap is not None:
            gap, self._gap = self._gap, None
            self._sequence += 1
            self._queue.append(RecorderItem(self._sequence, utc, gap))
        self._sequence += 1
        self._queue.append(RecorderItem(self._sequence, utc, content))

    def _is_crowded(self) -> bool:
        """Return True from the limit on, until half of the queue is written."""
        waiting = len(self._queue)
        return waiting >= MAX_QUEUED or (self._gap is not None and waiting > MAX_QUEUED // 2)

    def _count_lost(self, utc: float, content: Frame | ClockTick) -> None:
        """Count a dropped input; keep a frame's values, because later frames hold changes only."""
        self.lost_count += 1
        gap = self._gap or RecordingGap(0, 0, utc, KeyframeBuilder())
        if isinstance(content, Frame):
            gap.keyframe.add_frame(content)
            first_s = content.sim_s if content.missing_from_s is None else content.missing_from_s
            missing_from_s = first_s if gap.missing_from_s is None else gap.missing_from_s
            gap = gap._replace(frames=gap.frames + 1, missing_from_s=missing_from_s)
        else:
            gap = gap._replace(ticks=gap.ticks + 1)
        self._gap = gap

    @property
    def status_text(self) -> str:
        """A sentence on the state of recording."""
        if self.problem:
            return self.problem
        writer = self._writer
        if writer is None:
            return "not recording yet"
        lost = f"; {self.lost_count} frames could not be recorded" if self.lost_count else ""
        return f"{writer.stem}, {writer.size / MB:.1f} MB{lost}"

    def start(self) -> None:
        """Start the thread."""
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._thread.start()

    def close(self, timeout_s: float = CLOSE_TIMEOUT_S) -> bool:
        """Write the queue and close the file; return False if that took too long."""
        self._stop_event.set()
        if self._thread is None:
            return True
        self._thread.join(timeout_s)
        if self._thread.is_alive():
            self._log.warning("recording not closed", waiting=len(self._queue))
        return not self._thread.is_alive()

    # -- called in the thread ------------------------------------------------------------------------------

    def _run(self) -> None:
        while not self._stop_event.wait(POLL_INTERVAL_S):
            self.write_queued()
        self.finish()

    def write_queued(self) -> None:
        """Write the queue and maintain the file; never raises."""
        try:
            if self._is_suspended and not self._resume():
                self._limit_waiting()
                return
            while self._queue and not self._is_suspended:
                self._write_one(self._queue.popleft())
            if self._writer is not None and self._writer.is_open:
                self._writer.maintain()
                self._check_space()
        except OSError as error:
            self._suspend(f"the disk failed: {error.strerror or error}")
        except Exception as error:  # noqa: BLE001 - no error of recording may end the watch
            self._stop_recording(f"an error in this program: {error!r}")

    def finish(self) -> None:
        """Write the queue and close the file; never raises."""
        self._retry_s = self._clock()
        self.write_queued()
        writer, self._writer = self._writer, None
        try:
            if writer is not None and writer.is_open:
                writer.close()
        except OSError as error:
            self._stop_recording(f"the disk failed: {error.strerror or error}")

    def _write_one(self, queued: _Queued) -> None:
        """Start a recording, or add to the present one."""
        if isinstance(queued, RecordingHead):
            self._start_recording(queued)
        elif self._writer is not None:
            self._write_item(self._writer, queued)
            self._writer.maintain()  # also in the middle of a long queue

    def _write_item(self, writer: RecordingWriter, item: RecorderItem) -> None:
        """Write an item; one that has no form in a file is counted as lost, and recording goes on."""
        try:
            writer.write(item)
        except OSError:
            raise
        except Exception as error:  # noqa: BLE001 - one value must not end the recording
            self._log.error("an item cannot be recorded", item=type(item.content).__name__, why=repr(error))
            self.lost_count += 1
            writer.skip_last()

    def _start_recording(self, head: RecordingHead) -> None:
        """Close the present recording and start another, if there is room."""
        writer, self._writer = self._writer, None
        if writer is not None and writer.is_open:
            writer.close()
        self._is_over_budget = False
        self._pause_s = RETRY_S
        self.problem, self._checked_s, self._retry_s = "", self._clock(), self._clock() + RETRY_S
        self._writer = RecordingWriter(
            self._folder,
            recording_stem(head.began_utc, head.device, head.session),
            head,
            part_bytes=self._limits.part_bytes,
            opener=self._opener,
            clock=self._clock,
        )
        if self._make_space():
            self._writer.open()

    @property
    def _is_suspended(self) -> bool:
        """True while a session is to be recorded, but no file can be written."""
        return self._writer is not None and not self._writer.is_open

    def _resume(self) -> bool:
        """Try again to record, when that is due; return True if it succeeded."""
        if self._writer is None or self._clock() < self._retry_s:
            return False
        self._retry_s = self._clock() + self._pause_s
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            if self._free_bytes(self._folder) < RESUME_FACTOR * self._limits.min_free_bytes:
                return False
            self._writer.open()
        except OSError as error:
            self._log.info("recording still stopped", why=error.strerror or str(error))
            return False
        self.problem, self._checked_s = "", self._clock()
        self._log.info("recording resumed", recording=self._writer.path.name)
        return True

    def _limit_waiting(self) -> None:
        """Give up a session that waits for the disk once another has started, or too much waits."""
        waiting = list(self._queue)
        heads = [number for number, queued in enumerate(waiting) if isinstance(queued, RecordingHead)]
        if heads:
            self._writer = None
            for _ in range(heads[-1]):
                self._queue.popleft()
        elif len(waiting) > MAX_WAITING:
            self._stop_recording(f"{len(waiting)} messages waited for the disk")

    def _check_space(self) -> None:
        """Check the free space every `SYNC_S`."""
        if self._clock() - self._checked_s >= SYNC_S:
            self._checked_s = self._clock()
            if not self._make_space() and self._writer is not None:
                writer, self._retry_s = self._writer, self._clock() + RETRY_S
                if self._is_over_budget:
                    self._writer = None
                writer.close()

    def _make_space(self) -> bool:
        """Remove the oldest recordings over budget; return False if recording must stop."""
        self._folder.mkdir(mode=0o700, exist_ok=True)
        running = [self._writer.stem] if self._writer is not None else []
        least, budget = self._limits.min_free_bytes, self._limits.budget_bytes
        for stem in prune_to_budget(self._folder, budget, running, self._wall_clock):
            self._log.warning("oldest recording removed", recording=stem, budget=budget)
        free = self._free_bytes(self._folder)
        self._update_warning(free, least)
        if free < least:
            self._report_problem(
                f"the disk is nearly full: {free // MB} MB left, recording needs {least // MB} MB"
            )
        elif self._writer is not None:
            why = over_share(self._folder, budget, self._writer.stem, self._wall_clock)
            if why:
                self._is_over_budget = True
                self._report_problem(why)
        return not self.problem

    def _update_warning(self, free: int, least: int) -> None:
        """Warn before recording stops."""
        if free >= WARNING_FACTOR * least:
            self.warning = ""
        elif not self.warning:
            self.warning = f"the disk is nearly full: {free // MB} MB left; recording stops at {least // MB} MB ({self._folder})"
            self._log.warning("disk nearly full", free=free, least=least, folder=str(self._folder))

    def _suspend(self, why: str) -> None:
        """Stop recording until the disk can be written again; what is judged waits."""
        if self._writer is not None and self._writer.is_open:
            self._writer.abandon()
        # After a long time without a failure the next one is a new one.
        since_s = self._clock() - self._retry_s
        self._pause_s = RETRY_S if since_s > MAX_RETRY_S else min(2 * self._pause_s, MAX_RETRY_S)
        self._retry_s = self._clock() + self._pause_s
        self._report_problem(why)

    def _stop_recording(self, why: str) -> None:
        """Stop recording this session."""
        writer, self._writer = self._writer, None
        if writer is not None:
            writer.abandon()
        self._report_problem(why)

    def _report_problem(self, why: str) -> None:
        self.problem = f"recording has stopped: {why} ({self._folder}); watching continues"
        self._log.warning("recording stopped", why=why, folder=str(self._folder))
