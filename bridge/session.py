"""One flight being watched: datagrams go in, entries go to whoever listens.

Takes: datagrams with their arrival time, requests from the crew.  Gives: entries, to each listener in turn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import structlog

from adapters.receiver import Receiver
from bridge.control import Reply, Request
from rules.faults import InputFaults
from rules.judge.core import Core
from rules.judge.entries import Entry

Listener = Callable[[Entry], None]
MOST_FAILURES = 20


class Session:
    """Ties a receiver to the core, and the core to its listeners.

    A listener that raises is counted and named in the log; after `MOST_FAILURES` in a row it is left
    out, so that one that is broken can neither stop reception nor flood the log.
    """

    def __init__(self, core: Core, receiver: Receiver, listeners: Sequence[Listener] = ()) -> None:
        """Begin with nothing received."""
        self.core = core
        self.receiver = receiver
        self._listeners: list[Listener] = []
        self._failures: list[int] = []
        self._log = structlog.get_logger("session")
        for listener in listeners:
            self.listen(listener)

    def listen(self, listener: Listener) -> None:
        """Let one more hear every entry from now on."""
        self._listeners.append(listener)
        self._failures.append(0)

    def take(self, data: bytes, recv_s: float) -> None:
        """Decode a datagram and judge every frame in it; never raises for its content."""
        for frame in self.receiver.take(data, recv_s):
            self._tell(self.core.frame(frame))

    def tick(self, now_s: float) -> None:
        """Let time pass while nothing arrives, so that silence is noticed."""
        self._tell(self.core.tick(now_s))

    def answer(self, request: Request) -> Reply:
        """Do what the crew or the instructor asks, or say why not."""
        try:
            match request.verb:
                case "call":
                    self._tell(self.core.call(request.name, request.by))
                    return Reply(done=True, text=f"call entered: {request.name}")
                case "confirm":
                    self._tell(self.core.confirm(request.name, request.by))
                    return Reply(done=True, text=f"confirmed: {request.name}")
                case "excuse":
                    self._tell(self.core.excuse(request.name, request.by, request.reason))
                    return Reply(done=True, text=f"excused: {request.name}")
        except InputFaults as faults:
            return Reply(done=False, text=str(faults))

    def _tell(self, entries: Sequence[Entry]) -> None:
        for entry in entries:
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
