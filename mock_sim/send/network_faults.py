"""Mischief on the wire: datagrams lost, doubled, out of order, late, stalled, broken, and some that are garbage.

Takes: datagrams with the time at which they are due, and a seed.  Gives: what a bad network makes of them.
"""

from __future__ import annotations

from collections import Counter
from heapq import heappop, heappush
from random import Random
from typing import Annotated, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from rules.faults import Fault, InputFaults, Place
from rules.source import nearest_word

Fraction: TypeAlias = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Duration: TypeAlias = Annotated[float, Field(ge=0, le=600, allow_inf_nan=False)]
Due: TypeAlias = tuple[float, bytes]

MAX_GARBAGE_BYTES = 300
MAX_FLIPS = 4


class NetworkFaults(BaseModel):
    """How much goes wrong: shares of all datagrams, 0 to 1, and times in seconds at rate 1.

    A stall holds everything back for `stall_s`, at the end of every `stall_every_s`, and lets it go at once.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    loss: Fraction = 0.0
    duplicate: Fraction = 0.0
    reorder: Fraction = 0.0
    corrupt: Fraction = 0.0
    truncate: Fraction = 0.0
    garbage: Fraction = 0.0
    jitter_s: Duration = 0.0
    stall_s: Duration = 0.0
    stall_every_s: Duration = 0.0


def parse_network_faults(text: str) -> NetworkFaults:
    """Read mischief as somebody types it.

    Args:
        text: `loss=0.05,jitter_s=0.2`; '' is none.

    Raises:
        InputFaults: an unknown word, or a share that is none; every one of them.
    """
    pairs = [part.partition("=") for part in text.split(",") if part.strip()]
    try:
        return NetworkFaults.model_validate({name.strip(): value.strip() for name, _, value in pairs})
    except ValidationError as error:
        faults = [_fault(str(details["loc"][0]), details["msg"]) for details in error.errors()]
        raise InputFaults(faults) from error


def _fault(name: str, message: str) -> Fault:
    """One thing wrong with the text."""
    known = list(NetworkFaults.model_fields)
    if name not in known:
        near = nearest_word(name, known)
        hint = f"did you mean {near}?" if near else ""
        return Fault(Place("network faults"), f"no network fault '{name}'", ", ".join(known), hint)
    return Fault(
        Place("network faults"), f"{name}: {message[:1].lower()}{message[1:]}", "as in loss=0.05,jitter_s=0.2"
    )


class FaultInjector:
    """Does the mischief.  `counts` says how often each kind was done."""

    def __init__(self, faults: NetworkFaults, seed: int = 0) -> None:
        """Begin; the same seed and the same datagrams give the same mischief."""
        self._faults = faults
        self._random = Random(seed)
        self._queue: list[tuple[float, int, bytes]] = []
        self._count = 0
        self._reordered: bytes | None = None
        self._latest_s = 0.0
        self.counts: Counter[str] = Counter()

    def add(self, due_s: float, data: bytes) -> None:
        """Take a datagram in.

        Args:
            due_s: when it would be sent.
            data: its bytes.
        """
        mischief = self._faults
        if self._happens("garbage", mischief.garbage):
            self._enqueue(due_s, self._random.randbytes(self._random.randint(1, MAX_GARBAGE_BYTES)))
        if self._happens("loss", mischief.loss):
            return
        data = self._damaged(data)
        late_s = self._random.uniform(0.0, mischief.jitter_s) if mischief.jitter_s else 0.0
        if self._reordered is None and self._happens("reorder", mischief.reorder):
            self._reordered = data
            return
        self._enqueue(due_s + late_s, data)
        if self._happens("duplicate", mischief.duplicate):
            self._enqueue(due_s + late_s, data)
        if self._reordered is not None:
            self._enqueue(due_s + late_s, self._reordered)
            self._reordered = None

    def due(self, until_s: float) -> list[Due]:
        """What is to be sent by now, in order of time; it is given out once.

        Args:
            until_s: now, on the clock of `add`.
        """
        found: list[Due] = []
        while self._queue and self._queue[0][0] <= until_s:
            due_s, _, data = heappop(self._queue)
            found.append((due_s, data))
        return found

    def remaining(self) -> list[Due]:
        """Everything that is still kept, at the end of the flight."""
        if self._reordered is not None:
            self._enqueue(self._latest_s, self._reordered)
            self._reordered = None
        return self.due(float("inf"))

    def _happens(self, kind: str, share: float) -> bool:
        """Whether it happens this time; nothing is thrown for a share of 0, so that kinds do not disturb others."""
        happens = share > 0.0 and self._random.random() < share
        self.counts[kind] += happens
        return happens

    def _damaged(self, data: bytes) -> bytes:
        """The datagram with some bytes changed or its end cut off."""
        if data and self._happens("corrupt", self._faults.corrupt):
            spoilt = bytearray(data)
            for _ in range(self._random.randint(1, MAX_FLIPS)):
                spoilt[self._random.randrange(len(spoilt))] ^= self._random.randint(1, 255)
            data = bytes(spoilt)
        if data and self._happens("truncate", self._faults.truncate):
            data = data[: self._random.randrange(len(data))]
        return data

    def _enqueue(self, due_s: float, data: bytes) -> None:
        """Queue a datagram; in a stall it waits for the end of the stall."""
        every_s, stall_s = self._faults.stall_every_s, self._faults.stall_s
        if every_s and stall_s and due_s % every_s >= every_s - stall_s:
            due_s += every_s - due_s % every_s
            self.counts["stall"] += 1
        self._latest_s = max(self._latest_s, due_s)
        heappush(self._queue, (due_s, self._count, data))
        self._count += 1
