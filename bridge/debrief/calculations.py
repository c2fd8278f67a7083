"""The figures that follow from the trip sheet, as calculated at the start of the first push back, taxi or take-off.

Takes: an input log, a pack, the values of the trip sheet.  Gives: `Calculation`s.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.debrief.model import Calculation, FlownPhase
from bridge.debrief.time_axis import TimeAxis
from rules.judge.judge import compute_figures
from rules.packs.model import Pack
from rules.signals.input_log import InputLog
from rules.signals.model import Signal, Value
from rules.signals.number_format import format_value
from rules.words import words_of_id

OFF_STAND_CODES = ("PBT", "TXI", "TOF")
"""Codes of the CAST/ICAO common taxonomy: phases in which an aeroplane has left its stand."""


def off_stand_s(phases: Sequence[FlownPhase], default: float) -> float:
    """The start of the first phase with a code of `OFF_STAND_CODES`; `default` if there is none."""
    return next((phase.from_s for phase in phases if phase.code in OFF_STAND_CODES), default)


def values_at(input_log: InputLog, axis: TimeAxis, time_s: float) -> dict[str, Value]:
    """The latest value of every signal at a time; signals that are invalid then are left out.

    Args:
        input_log: the recorded inputs.
        axis: the times of its frames.
        time_s: on the session's axis.
    """
    values: dict[str, Value] = {}
    start = 0
    for frame_s, count in zip(axis.times_s.tolist(), input_log.counts, strict=True):
        if frame_s > time_s:
            break
        for index in range(start, start + count):
            value = input_log.others[index] if index in input_log.others else input_log.floats[index]
            if value is None:
                values.pop(input_log.names[index], None)
            else:
                values[input_log.names[index]] = value
        start += count
    return values


def figure_calculations(
    pack: Pack, trip_values: Mapping[str, Value], values: Mapping[str, Value]
) -> tuple[Calculation, ...]:
    """Calculate every figure of the pack whose inputs are known.

    Args:
        pack: contains the figures.
        trip_values: the values of the trip sheet.
        values: the values of the aeroplane's signals at that moment.
    """
    results = compute_figures(pack, {**values, **trip_values})
    return tuple(
        Calculation(result.label, value_text(result.signal, result.value), result.explanation)
        for result in results
    )


def trip_sheet_values(pack: Pack, trip_values: Mapping[str, Value]) -> tuple[Calculation, ...]:
    """The values of the trip sheet in their order, without those that the pack does not know."""
    known = ((pack.signals[name], value) for name, value in trip_values.items() if name in pack.signals)
    return tuple(Calculation(signal.label, value_text(signal, value), "") for signal, value in known)


def value_text(signal: Signal, value: Value) -> str:
    """Write a value with its unit, or a word without underscores."""
    return words_of_id(value) if isinstance(value, str) else format_value(value, signal.unit)
