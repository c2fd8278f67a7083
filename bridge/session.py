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
from bridge.inputs import Ear, Heeded, Input, Ticked
from bridge.notes import Change, Remarked, SessionNoted, Told
from bridge.reading import Reading
from bridge.spoken import Spoken
from rules.judge.core import Core
from rules.judge.entries import Life
from rules.signals.model import Frame

Listener = Callable[[Told], None]
MOST_FAILURES = 20


class Standing(StrEnum):
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
        core: Core,
        receiver: Receiver,
        listeners: Sequence[Listener] = (),
        *,
        name: str = "",
        wall: Callable[[], float] = time.time,
    ) -> None:
        """Begin with nothing received.

        Args:
            core: judges.
            receiver: decodes.
            listeners: hear every entry and note.
            name: what it is called.
            wall: seconds since 1970.
        """
        self.core = core
        self.receiver = receiver
        self.name = name
        self.course = ""
        self.standing = Standing.RUNNING
        self.crew: dict[str, str] = {}
        self.silenced = False
        self.reading: Reading | None = None
        self.now_s = 0.0
        self.spoken = Spoken(self.utc)
        self.inputs: list[Ear] = []
        self.keepers: list[Callable[[Sequence[Told]], None]] = []
        self._wall = wall
        self._moment: float | None = None
        self.uuid = uuid4().hex
        self.began_utc = self.utc()
        self._listeners: list[Listener] = []
        self._failures: list[int] = []
        self._log = structlog.get_logger("session")
        self.listen(self.spoken)
        for listener in listeners:
            self.listen(listener)
        receiver.mapper.forget()  # nothing was said to this session yet

    def utc(self) -> float:
        """Seconds since 1970, in whole microseconds; while an input is judged, the moment at which that began."""
        return self._moment if self._moment is not None else round(self._wall(), 6)

    @contextmanager
    def heeding(self, what: Heeded) -> Iterator[None]:
        """Let those who keep inputs hear one, then judge it within the block."""
        self._moment = self.utc()
        heard = Input(self._moment, what)
        try:
            for ear in self.inputs:
                try:
                    ear(heard)
                except Exception as error:  # noqa: BLE001 - who keeps inputs may fail in any way; judging goes on
                    self._log.error("input not kept", why=repr(error))
            yield
        finally:
            self._moment = None

    def listen(self, listener: Listener) -> None:
        """Let one more hear every entry from now on."""
        self._listeners.append(listener)
        self._failures.append(0)

    def take(self, data: bytes, recv_s: float) -> None:
        """Decode a datagram and judge every frame in it; never raises for its content."""
        for frame in self.receiver.take(data, recv_s):
            self.judge(frame)

    def judge(self, frame: Frame) -> None:
        """Judge one frame, where the session runs."""
        if self.standing is Standing.RUNNING:
            with self.heeding(frame):
                self.tell(self.core.frame(frame))
        else:
            self.receiver.mapper.forget()  # what changes meanwhile is said again

    def tick(self, now_s: float) -> None:
        """Let time pass while nothing arrives, so that silence is noticed."""
        self.let_pass(now_s)
        self.read_on(now_s)

    def let_pass(self, recv_s: float) -> None:
        """Judge what has grown too old by `recv_s`, where the session runs."""
        if self.standing is Standing.RUNNING and self.core.due(recv_s):
            with self.heeding(Ticked(recv_s)):
                self.tell(self.core.tick(recv_s))

    def read_on(self, now_s: float) -> None:
        """Go on in the checklist that is being read, where its line is so."""
        self.now_s = now_s
        if self.reading is not None:
            self.reading.look(now_s)

    def life(self, item: str) -> Life:
        """How an item stands."""
        return self.core.items.states[item].life

    def note(self, change: Change, text: str = "", by: str = "") -> None:
        """Say that something happened to the session."""
        self.tell([SessionNoted(self.core.session.sim_s, self.utc(), change, text, by)])

    def remark(self, text: str, by: str) -> None:
        """Put a remark on the record."""
        self.tell([Remarked(self.core.session.sim_s, self.utc(), text, by)])

    def tell(self, told: Sequence[Told]) -> None:
        """Let it be kept, and then let every listener hear."""
        for keeper in self.keepers:
            try:
                keeper(told)
            except Exception as error:  # noqa: BLE001 - who keeps may fail in any way; telling goes on
                self._log.error("not kept", why=repr(error))
        for entry in told:
            for at, listener in enumerate(self._listeners):
                if self._failures[at] >= MOST_FAILURES:
                    continue
                try:
                    listener(entry)
                    self._failures[at] = 0
                except Exception as error:  # noqa: BLE001 - a listener may fail in any way; the others go on
                    self._failed(at, error)

    def _failed(self, at: int, error: Exception) -> None:
        self._failures[at] += 1
        name = getattr(self._listeners[at], "__name__", type(self._listeners[at]).__name__)
        self._log.error("listener failed", listener=name, why=repr(error), in_a_row=self._failures[at])
        if self._failures[at] >= MOST_FAILURES:
            self._log.error("listener left out", listener=name)
