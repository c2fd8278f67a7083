"""What determines a session completely: frames, ticks at which something grew too old, and what was asked.

Whoever hears these in their order (`Session.inputs`) can judge the session again, to the byte.

Takes: nothing.  Gives: the types that the record keeps of what went in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from bridge.session.requests import Request
from rules.signals.model import Frame


@dataclass(frozen=True, slots=True)
class ClockTick:
    """Time passed without news, and by `recv_s` (the monotonic clock) something was too old."""

    recv_s: float


SessionInput: TypeAlias = Frame | ClockTick | Request


class TimedInput(NamedTuple):
    """One input; `utc` is the moment at which it was judged, in seconds since 1970, whole microseconds."""

    utc: float
    content: SessionInput


InputListener: TypeAlias = Callable[[TimedInput], None]
