"""Whether an approach was stabilised: each criterion of the pack at the heights at which it asks.

The heights at which an approach is looked at, 1 000 ft and 500 ft, are common practice, no source; the criteria are the pack's.

Takes: an account.  Gives: `Criterion`s, and what an approach showed at its marks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.debrief.model import DebriefData, DebriefTrace, ItemInterval
from rules.judge.events import ItemStatus
from rules.signals.model import Value
from rules.signals.number_format import format_value

STABILISED_PREFIX = "stabilised"
"""Flows whose name begins so hold the criteria."""
_SATISFIED = (ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED)


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion; `held` is None where it could not be told, `findings` are the numbers of what was found."""

    flow: str
    label: str
    met: bool | None
    findings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class MarkValues:
    """What an approach showed when one of its marks was passed: each column in words."""

    label: str
    at_s: float
    values: tuple[tuple[str, str], ...]


def stabilised_criteria(debrief: DebriefData) -> tuple[Criterion, ...]:
    """Every criterion of every flow of that kind that was flown, as it stood when the flow's gate was entered."""
    entered = {stage.id: stage.from_s for stage in debrief.phases}
    needs = {gate.passage.phase: gate.entered_at_s for gate in debrief.gates}
    found = []
    for bar in debrief.item_histories:
        if bar.flow.startswith(STABILISED_PREFIX):
            at_s = needs.get(bar.phase) or entered.get(bar.phase)
            if at_s is not None:
                found.append(Criterion(bar.flow_title, bar.label, _met_at(bar.intervals, at_s), bar.findings))
    return tuple(found)


def _met_at(intervals: tuple[ItemInterval, ...], at_s: float) -> bool | None:
    lives = [stretch.life for stretch in intervals if stretch.from_s <= at_s < stretch.to_s]
    return lives[0] in _SATISFIED if lives else None


def mark_values(trace: DebriefTrace) -> Iterator[MarkValues]:
    """What stood when each mark was passed.

    Args:
        trace: of any kind; its columns are read at the last sample that is not after the mark.
    """
    kept = trace.record
    for mark in kept.marks:
        place = max((n for n, time_s in enumerate(kept.times_s) if time_s <= mark.sim_s), default=None)
        if place is not None:
            says = tuple(
                (column.label, _value_text(column.values[place], column.unit)) for column in kept.columns
            )
            yield MarkValues(mark.label, mark.sim_s - kept.began_s, says)


def _value_text(value: Value | None, unit: str) -> str:
    if value is None:
        return "no data"
    return value.replace("_", " ") if isinstance(value, str) else format_value(round(value, 2) + 0.0, unit)
