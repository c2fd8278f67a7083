"""Formats values for the templates.

Takes: values of snapshots, entries and views.  Gives: `TEMPLATE_FILTERS`, each under the name of its function.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable

from markupsafe import Markup, escape

from bridge.common.sim_time import format_sim_time

_BREAKABLE_SPACE = re.compile(
    r"(?<=\d) (?=\d{3}(?!\d)|(?:%|degC|degF|deg|ft|gal|h|hPa|inHg|kg|kt|l|lb|m|MHz|min|NM|psi|rpm|s)(?![^\W_]))"
)
"""The space between groups of digits, and the space before a common unit."""


def short_duration(seconds: float) -> str:
    """Format a duration as 8 s, 3 min or 1 h 20 min."""
    whole = int(max(0.0, seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min"
    return f"{whole // 3600} h {whole // 60 % 60:02d} min"


def utc_time(seconds: float) -> str:
    """Format the UTC time of day of seconds since 1970."""
    return time.strftime("%H:%M:%S", time.gmtime(seconds))


def time_ago(seconds: float) -> str:
    """Format the time since an event."""
    return f"{short_duration(seconds)} ago" if seconds >= 1 else "just now"


def age_text(seconds: float) -> str:
    """Format an age, to a tenth of a second below one minute."""
    return f"{seconds:.1f} s old" if seconds < 60 else f"{short_duration(seconds)} old"


def stopwatch(seconds: float) -> str:
    """Format a measured time to a tenth of a second (0:07.3, 1:02.0), with a minus sign before the start."""
    tenths = round(abs(seconds) * 10)
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def capitalised(sentence: str) -> str:
    """Make the first letter a capital and leave the rest unchanged."""
    return sentence[:1].upper() + sentence[1:]


def with_no_break_spaces(text: str) -> str:
    """Keep numbers and their units on one line ("56 580 kg") by no-break spaces."""
    return _BREAKABLE_SPACE.sub("\N{NO-BREAK SPACE}", text)


def finalise_value(value: object) -> object:
    """Prepare a value that a template writes: numbers in plain text stay on one line."""
    return with_no_break_spaces(value) if type(value) is str else value


def verbatim(text: str) -> Markup:
    """Escape the text of an input field without changing its spaces."""
    return escape(text)


TEMPLATE_FILTERS: dict[str, Callable[..., str]] = {
    "age_text": age_text,
    "capitalised": capitalised,
    "clock": format_sim_time,
    "short_duration": short_duration,
    "stopwatch": stopwatch,
    "time_ago": time_ago,
    "utc_time": utc_time,
    "verbatim": verbatim,
}
