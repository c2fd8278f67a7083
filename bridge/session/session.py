"""One flight being watched: datagrams go in, entries go to whoever listens.

Takes: datagrams with their arrival time.  Gives: entries and notes, to each listener in turn; inputs, to whoever
keeps them.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from enum import StrEnum
from uuid import uuid4

import structlog

from adapters.receiver import Receiver
from bridge.session.call_register import CallRegister
from bridge.session.checklist_run import ChecklistRun
from bridge.session.session_events import RemarkAdded, SessionChanged, SessionChangeKind, SessionEvent
from bridge.session.session_input import ClockTick, InputListener, SessionInput, TimedInput
from rules.judge.events import ItemStatus
from rules.judge.judge import Judge
from rules.signals.model import Frame

EventListener = Callable[[SessionEvent], None]
MAX_FAILURES = 20


class SessionState(StrEnum):
    """Where a session stands; only a running one judges."""

    RUNNING = "running"
    PAUSED = "paused"
    ENDED = "ended"


class Session:
    """Ties a receiver to the core, and the core to its listeners.

    A listener that raises is counted and named in the log; after `MOST_FAILURES` in a row it is left
    out, so that one that is broken can neither stop reception nor flood the log.

    Attributes:
        uuid: names it among all sessions of all devices.
        began_utc: when it began, seconds since 1970.
        name: what the instructor calls it.
        course: the course that it belongs to; '' for none.
        crew: seat to pseudonym; seats that nobody was named for are left out.
        silenced: whether nothing is to be spoken.
        reading: the checklist that is being read, if one is.
        spoken: the calls that stand.
        inputs: hear each frame, tick and request before it is judged.
        keepers: have all that is told before any listener has it, so that it is on the disk by then.
    """

    def __init__(
        self,
        judge: Judge,
        receiver: Receiver,
        listeners: Sequence[EventListener] = (),
        *,
        name: str = "",
        wall_clock: Callable[[], float] = time.time,
    ) -> None:
        """Begin with nothing received.

        Args:
            judge: judges.
            receiver: decodes.
            listeners: hear every entry and note.
            name: what it is called.
            wall_clock: seconds since 1970.
        """
        self.judge = judge
        self.receiver = receiver
        self.name = name
        self.course = ""
        self.state = SessionState.RUNNING
        self.crew: dict[str, str] = {}
        self.muted = False
        self.checklist_run: ChecklistRun | None = None
        self.now_s = 0.0
        self.call_register = CallRegister(self.utc)
        self.input_listeners: list[InputListener] = []
        self.event_writers: list[Callable[[Sequence[SessionEvent]], None]] = []
        self._wall_clock = wall_clock
        self._input_utc: float | None = None
        self.uuid = uuid4().hex
        self.began_utc = self.utc()
        self._listeners: list[EventListener] = []
        self._failures: list[int] = []
        self._log = structlog.get_logger("session")
        self.add_listener(self.call_register)
        for listener in listeners:
            self.add_listener(listener)
        receiver.mapper.mark_all_changed()  # nothing was said to this session yet

    def utc(self) -> float:
        """Seconds since 1970, in whole microseconds; while an input is judged, the moment at which that began."""
        return self._input_utc if self._input_utc is not None else round(self._wall_clock(), 6)

    @contextmanager
    def processing_input(self, content: SessionInput) -> Iterator[None]:
        """Let those who keep inputs hear one, then judge it within the block."""
        self._input_utc = self.utc()
        heard = TimedInput(self._input_utc, content)
        try:
            for ear in self.input_listeners:
                try:
                    ear(heard)
                except Exception as error:  # noqa: BLE001 - who keeps inputs may fail in any way; judging goes on
                    self._log.error("input not kept", why=repr(error))
            yield
        finally:
            self._input_utc = None

    def add_listener(self, listener: EventListener) -> None:
        """Let one more hear every entry from now on."""
        self._listeners.append(listener)
        self._failures.append(0)

    def receive(self, data: bytes, recv_s: float) -> None:
        """Decode a datagram and judge every frame in it; never raises for its content."""
        for frame in self.receiver.receive(data, recv_s):
            self.judge_frame(frame)

    def judge_frame(self, frame: Frame) -> None:
        """Judge one frame, where the session runs."""
        if self.state is SessionState.RUNNING:
            with self.processing_input(frame):
                self.publish(self.judge.judge_frame(frame))
        else:
            self.receiver.mapper.mark_all_changed()  # what changes meanwhile is said again

    def tick(self, now_s: float) -> None:
        """Let time pass while nothing arrives, so that silence is noticed."""
        self.expire_stale(now_s)
        self.advance_checklist(now_s)

    def expire_stale(self, recv_s: float) -> None:
        """Judge what has grown too old by `recv_s`, where the session runs."""
        if self.state is SessionState.RUNNING and self.judge.expiry_due(recv_s):
            with self.processing_input(ClockTick(recv_s)):
                self.publish(self.judge.tick(recv_s))

    def advance_checklist(self, now_s: float) -> None:
        """Go on in the checklist that is being read, where its line is so."""
        self.now_s = now_s
        if self.checklist_run is not None:
            self.checklist_run.advance(now_s)

    def item_life(self, item: str) -> ItemStatus:
        """How an item stands."""
        return self.judge.items.states[item].status

    def publish_change(self, change: SessionChangeKind, text: str = "", by: str = "") -> None:
        """Say that something happened to the session."""
        self.publish([SessionChanged(self.judge.context.sim_s, self.utc(), change, text, by)])

    def add_remark(self, text: str, by: str) -> None:
        """Put a remark on the record."""
        self.publish([RemarkAdded(self.judge.context.sim_s, self.utc(), text, by)])

    def publish(self, events: Sequence[SessionEvent]) -> None:
        """Let it be kept, and then let every listener hear."""
        for keeper in self.event_writers:
            try:
                keeper(events)
            except Exception as error:  # noqa: BLE001 - who keeps may fail in any way; telling goes on
                self._log.error("not kept", why=repr(error))
        for entry in events:
            for at, listener in enumerate(self._listeners):
                if self._failures[at] >= MAX_FAILURES:
                    continue
                try:
                    listener(entry)
                    self._failures[at] = 0
                except Exception as error:  # noqa: BLE001 - a listener may fail in any way; the others go on
                    self._count_failure(at, error)

    def _count_failure(self, index: int, error: Exception) -> None:
        self._failures[index] += 1
        name = getattr(self._listeners[index], "__name__", type(self._listeners[index]).__name__)
        self._log.error("listener failed", listener=name, why=repr(error), in_a_row=self._failures[index])
        if self._failures[index] >= MAX_FAILURES:
            self._log.error("listener left out", listener=name)
