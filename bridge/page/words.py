"""How values are written on a page.

Takes: values of entries and pictures.  Gives: `FILTERS` for the templates.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from bridge.screen import clock


def lasting(seconds: float) -> str:
    """A length of time in words as short as they may be: 8 s, 3 min, 1 h 20 min."""
    whole = int(max(0.0, seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min"
    return f"{whole // 3600} h {whole // 60 % 60:02d} min"


def utc(seconds: float) -> str:
    """A time of day, UTC."""
    return time.strftime("%H:%M:%S", time.gmtime(seconds))


def ago(seconds: float) -> str:
    """How long ago something was."""
    return f"{lasting(seconds)} ago" if seconds >= 1 else "just now"


def age(seconds: float) -> str:
    """How old something is, to a tenth of a second while it is young."""
    return f"{seconds:.1f} s old" if seconds < 60 else f"{lasting(seconds)} old"


def stopwatch(seconds: float) -> str:
    """A time that is measured, to a tenth of a second: 0:07.3, 1:02.0; a minus where it is before the beginning."""
    tenths = round(abs(seconds) * 10)
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def begun(sentence: str) -> str:
    """A sentence with a capital letter, the rest as it was."""
    return sentence[:1].upper() + sentence[1:]


FILTERS: dict[str, Callable[..., str]] = {
    "age": age,
    "ago": ago,
    "begun": begun,
    "clock": clock,
    "lasting": lasting,
    "stopwatch": stopwatch,
    "utc": utc,
}
