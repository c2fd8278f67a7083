"""Formats values for the templates.

Takes: values of snapshots, entries and views.  Gives: `TEMPLATE_FILTERS`, each under the name of its function.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from markupsafe import Markup, escape

from bridge.common.time_text import (
    age_text,
    format_sim_time,
    short_duration,
    stopwatch,
    time_ago,
    time_of_day,
)
from rules.words import capitalised, count_in_digits, words_of_id

_BREAKABLE_SPACE = re.compile(
    r"(?<=\d) (?=\d{3}(?!\d)|(?:%|degC|degF|deg|ft|gal|h|hPa|inHg|kg|kt|l|lb|m|MHz|min|NM|psi|rpm|s)(?![^\W_]))"
)
"""The space between groups of digits, and the space before a common unit."""


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
    "count_in_digits": count_in_digits,
    "clock": format_sim_time,
    "short_duration": short_duration,
    "stopwatch": stopwatch,
    "time_ago": time_ago,
    "time_of_day": time_of_day,
    "verbatim": verbatim,
    "words_of_id": words_of_id,
}
