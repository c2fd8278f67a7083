"""One session: judges frames, and publishes inputs and events on the bus of its device.

    frame -> InputReceived -> judge -> StepEvents -> each event

Takes: frames, the clock, and requests.  Gives: typed events on an `EventBus`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from enum import StrEnum
from uuid import uuid4

from bridge.session.call_register import CallRegister
from bridge.session.checklist_run import ChecklistRun
from bridge.session.event_bus import EventBus
from bridge.session.session_events import RemarkAdded, SessionEvent
from bridge.session.session_input import ClockTick, InputReceived, SessionInput
from rules.judge.judge import Judge
from rules.judge.snapshot import Snapshot
from rules.packs.model import Pack
from rules.signals.model import Frame, Value


class SessionState(StrEnum):
    """State of a session; only a running session judges."""

    RUNNING = "running"
    PAUSED = "paused"
    ENDED = "ended"


class Session:
    """Connects a judge and a bus.

    Attributes:
        bus: gets each input before it is judged, and the events of each step.
        uuid: unique among all sessions of all devices.
        began_utc: start, seconds since 1970.
        name: given by the instructor.
        course: for the trends; '' for none.
        crew: pseudonym by seat; seats without a person are missing.
        muted: True while the voice is muted.
        checklist_run: the open checklist; None if there is none.
        call_register: calls that were entered and not undone.
    """

    def __init__(
        self,
        judge: Judge,
        bus: EventBus | None = None,
        *,
        ask_for_all: Callable[[], None] = lambda: None,
        name: str = "",
        wall_clock: Callable[[], float] = time.time,
    ) -> None:
        """Start without data.

        Args:
            judge: of the device's pack and trip sheet.
            bus: of the device; None for a bus of its own.
            ask_for_all: asks the source for every signal in its next frame; a frame holds only what changed.
            name: of the session.
            wall_clock: seconds since 1970.
        """
        self.judge = judge
        self._ask_for_all = ask_for_all
        self.bus = bus if bus is not None else EventBus()
        self.name = name
        self.course = ""
        self.state = SessionState.RUNNING
        self.crew: dict[str, str] = {}
        self.muted = False
        self.checklist_run: ChecklistRun | None = None
        self._unjudged: Frame | None = None
        self.now_s = 0.0
        self.call_register = CallRegister(self.utc)
        self._wall_clock = wall_clock
        self._input_utc: float | None = None
        self.uuid = uuid4().hex
        self.began_utc = self.utc()
        self.bus.subscribe(self.call_register, *CallRegister.EVENTS, one_session=True)
        ask_for_all()  # this session has received nothing yet

    def utc(self) -> float:
        """Return the time in seconds since 1970, rounded to microseconds; constant while one input is processed."""
        return self._input_utc if self._input_utc is not None else round(self._wall_clock(), 6)

    def event_times(self) -> tuple[float, float]:
        """Return the times of an event now: the simulator's clock, and seconds since 1970."""
        return self.judge.sim_s, self.utc()

    @contextmanager
    def processing_input(self, content: SessionInput) -> Iterator[None]:
        """Publish the input, then process it within the block."""
        self._input_utc = self.utc()
        try:
            self.bus.publish(InputReceived(self._input_utc, content))
            yield
        finally:
            self._input_utc = None

    def judge_frame(self, frame: Frame) -> None:
        """Judge one frame if the session is running.

        What came in a pause was not judged: its time is missing from the next frame, and its calls count there.
        """
        if self.state is SessionState.RUNNING:
            frame, self._unjudged = _after_pause(self._unjudged, frame), None
            with self.processing_input(frame):
                self.publish(self.judge.judge_frame(frame))
        else:
            first = _after_pause(self._unjudged, frame)
            missing_from_s = frame.sim_s if first.missing_from_s is None else first.missing_from_s
            self._unjudged = replace(first, missing_from_s=missing_from_s)
            self._ask_for_all()  # after the pause every value counts as changed

    def tick(self, now_s: float, delivered_until_s: float | None = None) -> None:
        """Advance the clock without data: expire old values, advance the checklist.

        Args:
            now_s: The monotonic clock.
            delivered_until_s: The time up to which all data were delivered, where data wait; values are old by then only.
        """
        self.expire_stale(now_s if delivered_until_s is None else delivered_until_s)
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

    @property
    def pack(self) -> Pack:
        """Rules by which the session is judged."""
        return self.judge.pack

    @property
    def trip_values(self) -> dict[str, Value]:
        """Present values of the trip sheet, by signal name."""
        return self.judge.trip_values

    def snapshot(self) -> Snapshot:
        """Return the present state of the judge, complete; it does not change afterwards."""
        return self.judge.snapshot()

    def current_snapshot(self) -> Snapshot:
        """Return the present state of the judge for a screen that reads it at once, and composes only what it reads."""
        return self.judge.current_snapshot()

    def item_satisfied(self, item: str) -> bool:
        """Return True if an item needs no more action."""
        return self.current_snapshot().items[item].satisfied

    def add_remark(self, text: str, by: str) -> None:
        """Publish a remark."""
        self.publish([RemarkAdded(*self.event_times(), text, by)])

    def publish(self, events: Sequence[SessionEvent]) -> None:
        """Publish the events of one step."""
        self.bus.publish_step(events)


def _after_pause(unjudged: Frame | None, frame: Frame) -> Frame:
    """Add the missing time and the calls of the frames before that were not judged; a reset leaves nothing of them."""
    if unjudged is None or unjudged.epoch != frame.epoch:
        return frame
    calls = tuple(dict.fromkeys((*unjudged.calls, *frame.calls)))
    return replace(frame, calls=calls, missing_from_s=unjudged.missing_from_s, missing_records=None)
