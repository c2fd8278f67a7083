"""The arithmetic behind the papers, as it stood when the aeroplane left its stand.

Takes: a recording on a tape, a pack, papers.  Gives: `Working`s.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.debrief.model import Calculation, FlownPhase
from bridge.debrief.time_axis import TimeAxis
from rules.judge.figures import FigureEvaluator
from rules.packs.model import Pack
from rules.signals.input_log import InputLog
from rules.signals.model import Signal, Value
from rules.signals.number_format import format_value
from rules.signals.state import SignalState, is_valid

OFF_STAND_CODES = ("PBT", "TXI", "TOF")
"""Phases of the CAST/ICAO common taxonomy in which an aeroplane has left its stand."""


def off_stand_s(phases: Sequence[FlownPhase], default: float) -> float:
    """When it left its stand the first time; `otherwise` where it never did."""
    return next((stage.from_s for stage in phases if stage.code in OFF_STAND_CODES), default)


def values_at(tape: InputLog, axis: TimeAxis, time_s: float) -> dict[str, Value]:
    """The value of every signal at a time, as it was said last."""
    values: dict[str, Value] = {}
    at = 0
    for frame_s, count in zip(axis.times_s.tolist(), tape.counts, strict=True):
        if frame_s > time_s:
            break
        for place in range(at, at + count):
            value = tape.others[place] if place in tape.others else tape.floats[place]
            if value is None:
                values.pop(tape.names[place], None)
            else:
                values[tape.names[place]] = value
        at += count
    return values


def figure_calculations(
    pack: Pack, trip_values: Mapping[str, Value], values: Mapping[str, Value]
) -> tuple[Calculation, ...]:
    """Every figure of the pack that can be worked out, with how it came about.

    Args:
        pack: has the figures.
        trip_values: the trip's values.
        values: of the aeroplane's signals at that moment.
    """
    state = SignalState(pack.signals)
    for name, value in {**values, **trip_values}.items():
        signal = pack.signals.get(name)
        if signal is not None and is_valid(signal, value):
            state.set_value(name, value, 0.0)
    figures = FigureEvaluator(pack, state)
    figures.evaluate_all()
    found = []
    for figure in pack.figures:
        number = state.values.get(figure.signal.name)
        if number is not None:
            says = figures.calculation(figure.signal)
            label = figures.name(figure.signal)
            found.append(
                Calculation(label, value_text(figure.signal, number), says.removeprefix(f"{label}: "))
            )
    return tuple(found)


def trip_sheet_values(pack: Pack, trip_values: Mapping[str, Value]) -> tuple[Calculation, ...]:
    """What the papers say, in their order."""
    known = ((pack.signals[name], value) for name, value in trip_values.items() if name in pack.signals)
    return tuple(Calculation(signal.label, value_text(signal, value), "") for signal, value in known)


def value_text(signal: Signal, value: Value) -> str:
    """A value in words."""
    return value.replace("_", " ") if isinstance(value, str) else format_value(value, signal.unit)
