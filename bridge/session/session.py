"""One session: decodes datagrams, judges frames, and publishes events to its listeners.

    datagram -> receiver -> frame -> input listeners -> judge -> events -> event writers -> listeners

Takes: datagrams with their arrival time, and requests.  Gives: events to each listener; inputs to each input listener.
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
    """State of a session; only a running session judges."""

    RUNNING = "running"
    PAUSED = "paused"
    ENDED = "ended"


class Session:
    """Connects a receiver, a judge and listeners.

    A listener that raises is counted and named in the log. After `MAX_FAILURES` failures in a row it is
    removed, so that a broken listener can neither stop reception nor flood the log.

    Attributes:
        uuid: unique among all sessions of all devices.
        began_utc: start, seconds since 1970.
        name: given by the instructor.
        course: for the trends; '' for none.
        crew: pseudonym by seat; seats without a person are missing.
        muted: True while the voice is muted.
        checklist_run: the open checklist; None if there is none.
        call_register: calls that were entered and not undone.
        input_listeners: called with each frame, tick and request before it is judged.
        event_writers: called with all events before any listener, so that the events are on the disk by then.
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
        """Start without data.

        Args:
            judge: of the device's pack and trip sheet.
            receiver: decodes datagrams.
            listeners: called with every event.
            name: of the session.
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
        receiver.mapper.mark_all_changed()  # this session has received nothing yet

    def utc(self) -> float:
        """Return the time in seconds since 1970, rounded to microseconds; constant while one input is processed."""
        return self._input_utc if self._input_utc is not None else round(self._wall_clock(), 6)

    @contextmanager
    def processing_input(self, content: SessionInput) -> Iterator[None]:
        """Notify the input listeners, then process the input within the block."""
        self._input_utc = self.utc()
        timed = TimedInput(self._input_utc, content)
        try:
            for listener in self.input_listeners:
                try:
                    listener(timed)
                except Exception as error:  # noqa: BLE001 - an input listener may fail in any way; judging must continue
                    self._log.error("input not recorded", why=repr(error))
            yield
        finally:
            self._input_utc = None

    def add_listener(self, listener: EventListener) -> None:
        """Add a listener for all further events."""
        self._listeners.append(listener)
        self._failures.append(0)

    def receive(self, data: bytes, recv_s: float) -> None:
        """Decode a datagram and judge its frames; never raises for its content."""
        for frame in self.receiver.receive(data, recv_s):
            self.judge_frame(frame)

    def judge_frame(self, frame: Frame) -> None:
        """Judge one frame if the session is running."""
        if self.state is SessionState.RUNNING:
            with self.processing_input(frame):
                self.publish(self.judge.judge_frame(frame))
        else:
            self.receiver.mapper.mark_all_changed()  # after the pause every value counts as changed

    def tick(self, now_s: float) -> None:
        """Advance the clock without data: expire old values, advance the checklist."""
        self.expire_stale(now_s)
        self.advance_checklist(now_s)

    def expire_stale(self, recv_s: float) -> None:
        """Expire the values that are too old at `recv_s`, if the session is running."""
        if self.state is SessionState.RUNNING and self.judge.expiry_due(recv_s):
            with self.processing_input(ClockTick(recv_s)):
                self.publish(self.judge.tick(recv_s))

    def advance_checklist(self, now_s: float) -> None:
        """Go to the next line of the open checklist if the present line is satisfied."""
        self.now_s = now_s
        if self.checklist_run is not None:
            self.checklist_run.advance(now_s)

    def item_life(self, item: str) -> ItemStatus:
        """Return the status of an item."""
        return self.judge.items.states[item].status

    def publish_change(self, change: SessionChangeKind, text: str = "", by: str = "") -> None:
        """Publish a change of the session."""
        self.publish([SessionChanged(self.judge.context.sim_s, self.utc(), change, text, by)])

    def add_remark(self, text: str, by: str) -> None:
        """Publish a remark."""
        self.publish([RemarkAdded(self.judge.context.sim_s, self.utc(), text, by)])

    def publish(self, events: Sequence[SessionEvent]) -> None:
        """Pass events to the event writers, then each event to every listener."""
        for writer in self.event_writers:
            try:
                writer(events)
            except Exception as error:  # noqa: BLE001 - a writer may fail in any way; the listeners must be called
                self._log.error("event not written", why=repr(error))
        for event in events:
            for index, listener in enumerate(self._listeners):
                if self._failures[index] >= MAX_FAILURES:
                    continue
                try:
                    listener(event)
                    self._failures[index] = 0
                except Exception as error:  # noqa: BLE001 - a listener may fail in any way; the others must be called
                    self._count_failure(index, error)

    def _count_failure(self, index: int, error: Exception) -> None:
        self._failures[index] += 1
        name = getattr(self._listeners[index], "__name__", type(self._listeners[index]).__name__)
        self._log.error("listener failed", listener=name, why=repr(error), in_a_row=self._failures[index])
        if self._failures[index] >= MAX_FAILURES:
            self._log.error("listener removed", listener=name)
