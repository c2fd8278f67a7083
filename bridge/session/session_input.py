"""The inputs that determine a session completely: frames, clock ticks and requests.

A session that is judged again from these inputs, in their order, gives the same events to the byte.

Takes: nothing.  Gives: the types of the inputs, as the recording contains them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from bridge.session.requests import Request
from rules.signals.model import Frame


@dataclass(frozen=True, slots=True)
class ClockTick:
    """Time passed without a frame; by `recv_s` (monotonic clock) a value had become too old."""

    recv_s: float


SessionInput: TypeAlias = Frame | ClockTick | Request


class InputReceived(NamedTuple):
    """An input that is about to be judged, and the time: `utc` in seconds since 1970, rounded to microseconds."""

    utc: float
    content: SessionInput
