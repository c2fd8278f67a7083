"""The arithmetic behind the papers, as it stood when the aeroplane left its stand.

Takes: a recording on a tape, a pack, papers.  Gives: `Working`s.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.debrief.account import Stage, Working
from bridge.debrief.axis import Axis
from rules.judge.figures import Figures
from rules.packs.model import Pack
from rules.signals.model import Signal, Value
from rules.signals.numbers import say
from rules.signals.state import State, bearable
from rules.signals.tape import Tape

LEAVING = ("PBT", "TXI", "TOF")
"""Phases of the CAST/ICAO common taxonomy in which an aeroplane has left its stand."""


def leaving_s(stages: Sequence[Stage], otherwise: float) -> float:
    """When it left its stand the first time; `otherwise` where it never did."""
    return next((stage.from_s for stage in stages if stage.code in LEAVING), otherwise)


def state_at(tape: Tape, axis: Axis, time_s: float) -> dict[str, Value]:
    """The value of every signal at a time, as it was said last."""
    values: dict[str, Value] = {}
    at = 0
    for frame_s, count in zip(axis.times_s.tolist(), tape.counts, strict=True):
        if frame_s > time_s:
            break
        for place in range(at, at + count):
            value = tape.odd[place] if place in tape.odd else tape.numbers[place]
            if value is None:
                values.pop(tape.names[place], None)
            else:
                values[tape.names[place]] = value
        at += count
    return values


def reckoned(pack: Pack, papers: Mapping[str, Value], values: Mapping[str, Value]) -> tuple[Working, ...]:
    """Every figure of the pack that can be worked out, with how it came about.

    Args:
        pack: has the figures.
        papers: the trip's values.
        values: of the aeroplane's signals at that moment.
    """
    state = State(pack.signals)
    for name, value in {**values, **papers}.items():
        signal = pack.signals.get(name)
        if signal is not None and bearable(signal, value):
            state.set(name, value, 0.0)
    figures = Figures(pack, state)
    figures.begin()
    found = []
    for figure in pack.figures:
        number = state.values.get(figure.signal.name)
        if number is not None:
            says = figures.working(figure.signal)
            label = figures.name(figure.signal)
            found.append(Working(label, said(figure.signal, number), says.removeprefix(f"{label}: ")))
    return tuple(found)


def planned(pack: Pack, papers: Mapping[str, Value]) -> tuple[Working, ...]:
    """What the papers say, in their order."""
    known = ((pack.signals[name], value) for name, value in papers.items() if name in pack.signals)
    return tuple(Working(signal.label, said(signal, value), "") for signal, value in known)


def said(signal: Signal, value: Value) -> str:
    """A value in words."""
    return value.replace("_", " ") if isinstance(value, str) else say(value, signal.unit)
