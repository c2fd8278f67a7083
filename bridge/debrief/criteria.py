"""Whether an approach was stabilised: each criterion of the pack at the heights at which it asks.

The heights at which an approach is looked at, 1 000 ft and 500 ft, are common practice, no source; the criteria are the pack's.

Takes: an account.  Gives: `Criterion`s, and what an approach showed at its marks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.debrief.account import Account, Stretch, Strip
from rules.judge.entries import Life
from rules.signals.model import Value
from rules.signals.numbers import say

STABILISED = "stabilised"
"""Flows whose name begins so hold the criteria."""
_SO = (Life.MET, Life.CONFIRMED, Life.EXCUSED)


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion; `held` is None where it could not be told, `findings` are the numbers of what was found."""

    flow: str
    label: str
    held: bool | None
    findings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class AtMark:
    """What an approach showed when one of its marks was passed: each column in words."""

    label: str
    at_s: float
    says: tuple[tuple[str, str], ...]


def criteria(account: Account) -> tuple[Criterion, ...]:
    """Every criterion of every flow of that kind that was flown, as it stood when the flow's gate was entered."""
    entered = {stage.id: stage.from_s for stage in account.stages}
    needs = {gate.passage.phase: gate.entered_at_s for gate in account.gates}
    found = []
    for bar in account.bars:
        if bar.flow.startswith(STABILISED):
            at_s = needs.get(bar.phase) or entered.get(bar.phase)
            if at_s is not None:
                found.append(Criterion(bar.flow_title, bar.label, _held(bar.stretches, at_s), bar.findings))
    return tuple(found)


def _held(stretches: tuple[Stretch, ...], at_s: float) -> bool | None:
    lives = [stretch.life for stretch in stretches if stretch.from_s <= at_s < stretch.to_s]
    return lives[0] in _SO if lives else None


def at_marks(strip: Strip) -> Iterator[AtMark]:
    """What stood when each mark was passed.

    Args:
        strip: of any kind; its columns are read at the last sample that is not after the mark.
    """
    kept = strip.kept
    for mark in kept.marks:
        place = max((n for n, time_s in enumerate(kept.times_s) if time_s <= mark.sim_s), default=None)
        if place is not None:
            says = tuple((column.label, _said(column.values[place], column.unit)) for column in kept.columns)
            yield AtMark(mark.label, mark.sim_s - kept.began_s, says)


def _said(value: Value | None, unit: str) -> str:
    if value is None:
        return "no data"
    return value.replace("_", " ") if isinstance(value, str) else say(round(value, 2) + 0.0, unit)
