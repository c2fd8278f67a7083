"""How values are written on a page.

Takes: values of entries and pictures.  Gives: `FILTERS` for the templates.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable

from markupsafe import Markup, escape

from bridge.terminal.live_view import format_sim_time

_BREAKABLE_SPACE = re.compile(
    r"(?<=\d) (?=\d{3}(?!\d)|(?:%|degC|degF|deg|ft|gal|h|hPa|inHg|kg|kt|l|lb|m|MHz|min|NM|psi|rpm|s)(?![^\W_]))"
)
"""The space between groups of digits, and that before a usual unit."""


def short_duration(seconds: float) -> str:
    """A length of time in words as short as they may be: 8 s, 3 min, 1 h 20 min."""
    whole = int(max(0.0, seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min"
    return f"{whole // 3600} h {whole // 60 % 60:02d} min"


def utc_time(seconds: float) -> str:
    """A time of day, UTC."""
    return time.strftime("%H:%M:%S", time.gmtime(seconds))


def time_ago(seconds: float) -> str:
    """How long ago something was."""
    return f"{short_duration(seconds)} ago" if seconds >= 1 else "just now"


def age_text(seconds: float) -> str:
    """How old something is, to a tenth of a second while it is young."""
    return f"{seconds:.1f} s old" if seconds < 60 else f"{short_duration(seconds)} old"


def stopwatch(seconds: float) -> str:
    """A time that is measured, to a tenth of a second: 0:07.3, 1:02.0; a minus where it is before the beginning."""
    tenths = round(abs(seconds) * 10)
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def capitalised(sentence: str) -> str:
    """A sentence with a capital letter, the rest as it was."""
    return sentence[:1].upper() + sentence[1:]


def with_no_break_spaces(text: str) -> str:
    """A text whose numbers are not broken at the end of a line, nor apart from their unit: "56 580 kg"."""
    return _BREAKABLE_SPACE.sub("\N{NO-BREAK SPACE}", text)


def finalise_value(value: object) -> object:
    """What a template writes, with its numbers in one piece; what is no plain text stays as it is."""
    return with_no_break_spaces(value) if type(value) is str else value


def verbatim(text: str) -> Markup:
    """A text for a field, in which spaces stay what they are."""
    return escape(text)


TEMPLATE_FILTERS: dict[str, Callable[..., str]] = {
    "age": age_text,
    "ago": time_ago,
    "as_typed": verbatim,
    "begun": capitalised,
    "clock": format_sim_time,
    "lasting": short_duration,
    "stopwatch": stopwatch,
    "utc": utc_time,
}
