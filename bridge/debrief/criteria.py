"""Criteria of a stabilised approach, each checked at the height at which the pack requires it.

The heights at which an approach is checked, 1 000 ft and 500 ft, are common practice, no source; the criteria are the pack's.

Takes: `DebriefData`.  Gives: `Criterion`s, and the values of an approach at its marks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.debrief.model import DebriefData, DebriefTrace, ItemInterval
from rules.judge.events import ItemStatus
from rules.signals.model import Value
from rules.signals.number_format import format_value
from rules.words import words_of_id

STABILISED_PREFIX = "stabilised"
"""The criteria are the items of flows whose name begins with this."""
_SATISFIED = (ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED)


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion; `met` is None if it was unknown, `findings` are the numbers of its findings."""

    flow: str
    label: str
    met: bool | None
    findings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class MarkValues:
    """The values of a trace at one of its marks: the label and the text of each column, `at_s` after its beginning."""

    label: str
    at_s: float
    values: tuple[tuple[str, str], ...]


def stabilised_criteria(debrief: DebriefData) -> tuple[Criterion, ...]:
    """Every criterion of the flows that were flown, as it was when the flow's gate was entered."""
    phase_begins = {phase.id: phase.from_s for phase in debrief.phases}
    gate_entries = {gate.passage.phase: gate.entered_at_s for gate in debrief.gates}
    criteria = []
    for item in debrief.item_histories:
        if item.flow.startswith(STABILISED_PREFIX):
            at_s = gate_entries.get(item.phase) or phase_begins.get(item.phase)
            if at_s is not None:
                met = _met_at(item.intervals, at_s)
                criteria.append(Criterion(item.flow_title, item.label, met, item.findings))
    return tuple(criteria)


def _met_at(intervals: tuple[ItemInterval, ...], at_s: float) -> bool | None:
    statuses = [interval.status for interval in intervals if interval.from_s <= at_s < interval.to_s]
    return statuses[0] in _SATISFIED if statuses else None


def mark_values(trace: DebriefTrace) -> Iterator[MarkValues]:
    """The values of a trace at each of its marks.

    Args:
        trace: a trace of any kind; its columns are read at the last sample that is not after the mark.
    """
    record = trace.record
    for mark in record.marks:
        index = max((n for n, time_s in enumerate(record.times_s) if time_s <= mark.sim_s), default=None)
        if index is not None:
            values = tuple(
                (column.label, _value_text(column.values[index], column.unit)) for column in record.columns
            )
            yield MarkValues(mark.label, mark.sim_s - record.began_s, values)


def _value_text(value: Value | None, unit: str) -> str:
    if value is None:
        return "no data"
    return words_of_id(value) if isinstance(value, str) else format_value(round(value, 2) + 0.0, unit)
