"""Applies network faults: datagrams lost, duplicated, reordered, late, stalled, damaged, and random ones added.

Takes: datagrams with the time at which they are due, and a seed.  Gives: the datagrams after the faults.
"""

from __future__ import annotations

from collections import Counter
from heapq import heappop, heappush
from random import Random
from typing import Annotated, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from rules.faults import Fault, InputFaults, Place
from rules.source import unknown_fault
from rules.words import join_or

Fraction: TypeAlias = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Duration: TypeAlias = Annotated[float, Field(ge=0, le=600, allow_inf_nan=False)]
Due: TypeAlias = tuple[float, bytes]

MAX_GARBAGE_BYTES = 300
MAX_FLIPS = 4
OPTION = "--network-faults"
"""The option of the command line whose text is parsed."""


class NetworkFaults(BaseModel):
    """Rates of the faults as shares of all datagrams, 0 to 1, and times in seconds at rate 1.

    A stall delays all datagrams for `stall_s`, at the end of every `stall_every_s`, and then sends them at once.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)

    loss: Fraction = 0.0
    """Share of the datagrams that are lost, 0 to 1."""
    duplicate: Fraction = 0.0
    """Share that is sent twice."""
    reorder: Fraction = 0.0
    """Share that is held back until the next one has gone."""
    corrupt: Fraction = 0.0
    """Share in which one to four bytes are changed."""
    truncate: Fraction = 0.0
    """Share of which the end is cut off."""
    garbage: Fraction = 0.0
    """Share before which 1 to 300 random bytes are sent."""
    jitter_s: Duration = 0.0
    """Each datagram is late by a random time up to this, 0 to 600 s at speed 1."""
    stall_s: Duration = 0.0
    """How long nothing gets through at the end of each stall_every_s; then everything comes at once. 0 to 600 s."""
    stall_every_s: Duration = 0.0
    """How often a stall comes, 0 to 600 s; 0 means never."""


def parse_network_faults(text: str) -> NetworkFaults:
    """Parse network faults from an option's text.

    Args:
        text: `loss=0.05,jitter_s=0.2`; '' means no faults.

    Raises:
        InputFaults: lists every unknown name and every wrong number.
    """
    pairs = [part.partition("=") for part in text.split(",") if part.strip()]
    try:
        return NetworkFaults.model_validate({name.strip(): value.strip() for name, _, value in pairs})
    except ValidationError as error:
        faults = [_fault(str(details["loc"][0]), str(details["input"])) for details in error.errors()]
        raise InputFaults(faults) from error


def _fault(name: str, value: str) -> Fault:
    """Return the fault for one wrong entry of the text."""
    known = list(NetworkFaults.model_fields)
    if name not in known:
        return unknown_fault(Place(OPTION), "network fault", name, known, join_or(known))
    low, high = _limits(name)
    return Fault(Place(OPTION), f"{name}={value}", f"{low:g} to {high:g}")


def _limits(name: str) -> tuple[float, float]:
    """Return the lowest and the highest value of a kind of fault."""
    limits = NetworkFaults.model_json_schema()["properties"][name]
    return limits["minimum"], limits["maximum"]


class FaultInjector:
    """Applies network faults to datagrams.  `counts` holds how often each kind happened."""

    def __init__(self, faults: NetworkFaults, seed: int = 0) -> None:
        """Start; the same seed and the same datagrams give the same faults."""
        self._faults = faults
        self._random = Random(seed)
        self._queue: list[tuple[float, int, bytes]] = []
        self._count = 0
        self._reordered: bytes | None = None
        self._latest_s = 0.0
        self.counts: Counter[str] = Counter()

    def add(self, due_s: float, data: bytes) -> None:
        """Add a datagram.

        Args:
            due_s: when it would be sent.
            data: its bytes.
        """
        faults = self._faults
        if self._happens("garbage", faults.garbage):
            self._enqueue(due_s, self._random.randbytes(self._random.randint(1, MAX_GARBAGE_BYTES)))
        if self._happens("loss", faults.loss):
            return
        data = self._damaged(data)
        late_s = self._random.uniform(0.0, faults.jitter_s) if faults.jitter_s else 0.0
        if self._reordered is None and self._happens("reorder", faults.reorder):
            self._reordered = data
            return
        self._enqueue(due_s + late_s, data)
        if self._happens("duplicate", faults.duplicate):
            self._enqueue(due_s + late_s, data)
        if self._reordered is not None:
            self._enqueue(due_s + late_s, self._reordered)
            self._reordered = None

    def due(self, until_s: float) -> list[Due]:
        """Return the datagrams that are due, in order of time; each only once.

        Args:
            until_s: now, on the clock of `add`.
        """
        found: list[Due] = []
        while self._queue and self._queue[0][0] <= until_s:
            due_s, _, data = heappop(self._queue)
            found.append((due_s, data))
        return found

    def remaining(self) -> list[Due]:
        """Return all queued datagrams at the end of the flight."""
        if self._reordered is not None:
            self._enqueue(self._latest_s, self._reordered)
            self._reordered = None
        return self.due(float("inf"))

    def _happens(self, kind: str, share: float) -> bool:
        """Draw whether a fault happens; no draw at a share of 0, so that one kind does not disturb another."""
        happens = share > 0.0 and self._random.random() < share
        self.counts[kind] += happens
        return happens

    def _damaged(self, data: bytes) -> bytes:
        """Return the datagram with some bytes changed or its end cut off."""
        if data and self._happens("corrupt", self._faults.corrupt):
            damaged = bytearray(data)
            for _ in range(self._random.randint(1, MAX_FLIPS)):
                damaged[self._random.randrange(len(damaged))] ^= self._random.randint(1, 255)
            data = bytes(damaged)
        if data and self._happens("truncate", self._faults.truncate):
            data = data[: self._random.randrange(len(data))]
        return data

    def _enqueue(self, due_s: float, data: bytes) -> None:
        """Queue a datagram; during a stall it is due at the end of the stall."""
        # stall_every_s=10, stall_s=2:  0 ........ 8 xx 10   a datagram due at an x is sent at 10
        every_s, stall_s = self._faults.stall_every_s, self._faults.stall_s
        if every_s and stall_s and due_s % every_s >= every_s - stall_s:
            due_s += every_s - due_s % every_s
            self.counts["stall"] += 1
        self._latest_s = max(self._latest_s, due_s)
        heappush(self._queue, (due_s, self._count, data))
        self._count += 1
