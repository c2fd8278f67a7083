"""Signals in texts of the pack: `{signal}` becomes the present value, as it is read aloud.

Takes: a text and the state.  Gives: text.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from rules.judge.wording import word_text
from rules.signals.model import Quality
from rules.signals.number_format import format_value, in_steps
from rules.signals.state import SignalState
from rules.words import join_and

TIME_OF_DAY = "clock.utc"
"""Signal of the panel clock, in seconds since midnight; it is read as hours and minutes."""
_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")


def placeholders_in(text: str) -> tuple[str, ...]:
    """Names of the signals in a text."""
    return tuple(name.strip() for name in _PLACEHOLDER.findall(text))


def fill_placeholders(
    text: str, state: SignalState, shown: Mapping[str, Sequence[str]] = MappingProxyType({})
) -> str:
    """Fill in each `{signal}` of a text with its present value.

    Args:
        text: The text.
        state: The state.
        shown: Signals of placeholders that stand for several; equal values are read out once.
    """

    def fill(place: re.Match[str]) -> str:
        names = shown.get(place[1], (place[1].strip(),))
        values = _values_text(state, names)
        # 502 kg in steps of 10 kg would read as the limit of 500 kg beside it.
        hides = values in text and values != (exact := _values_text(state, names, exact=True))
        return exact if hides else values

    return _PLACEHOLDER.sub(fill, text)


def _values_text(state: SignalState, names: Sequence[str], *, exact: bool = False) -> str:
    """Present values of some signals, each different one once."""
    return join_and(list(dict.fromkeys(signal_text(state, name, exact=exact) for name in names)))


def signal_text(state: SignalState, name: str, *, exact: bool = False) -> str:
    """Present value of a signal as it is read aloud, or why it has none; `exact`: not in its steps."""
    signal, sample = state.signals.get(name), state.sample(name)
    if sample.quality is Quality.STALE:
        return "(out of date)"
    if signal is None or sample.value is None:
        return "(not valid)" if sample.quality is Quality.INVALID else "(no data)"
    if isinstance(sample.value, str):
        return word_text(sample.value)
    if name == TIME_OF_DAY:
        hours, minutes = divmod(int(sample.value) // 60, 60)
        return f"{hours:02d}:{minutes:02d}"
    band = next((band.name for band in signal.bands if band.low <= sample.value <= band.high), "")
    if band:
        return band
    value = sample.value if exact else in_steps(sample.value, signal.shown_step)
    if not signal.sides:
        return format_value(value, signal.unit)
    side = f" {signal.sides[value > 0]}" if value else ""
    return f"{format_value(abs(value), signal.unit)}{side}"
