"""Breaks each signal of each line of a checklist, one at a time, and notes which lines do not notice it.

Takes: a judge in a correct flight, just before a checklist is called complete.  Gives: `ListResult`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from rules.packs.line_reading import LineReading, read_line
from rules.packs.model import ChecklistLine, Pack
from rules.signals.model import Signal
from tests.checklists.read_lists import JudgedState
from tests.sentences.numbers import other_values

RESTORED_S = 4.0
"""Longer than any `for` in the condition of a line."""


@dataclass
class ListResult:
    """Result of breaking the signals of one checklist.

    Attributes:
        unmet: Lines that are not met although nothing is broken.
        complete: True if the checklist, read to its end, is complete while nothing is broken.
        broken: Pairs of a line and a signal whose wrong value leaves the line unmet and the checklist not complete.
        unnoticed: Pairs of a line and a signal for which no wrong value does.
        not_restored: Pairs of a line and a signal after whose right value the line is not met again.
    """

    unmet: set[str] = field(default_factory=set)
    complete: bool = False
    broken: set[tuple[str, str]] = field(default_factory=set)
    unnoticed: set[tuple[str, str]] = field(default_factory=set)
    not_restored: set[tuple[str, str]] = field(default_factory=set)


def reading_of(pack: Pack, line: ChecklistLine) -> LineReading:
    """Signals that a line reads."""
    figures = {figure.signal.name: figure for figure in pack.figures}
    return read_line([pack.items[item] for item in line.items], pack.items, figures)


def signals_to_break(pack: Pack, line: ChecklistLine) -> list[str]:
    """Signals of the aeroplane that a line shows or judges."""
    shown = {name for names in line.shown.values() for name in names}
    names = shown | reading_of(pack, line).judged
    return sorted(name for name in names if not name.startswith(("trip.", "figure.")))


def break_all(pack: Pack, name: str, judged: JudgedState) -> ListResult:
    """Break every signal of every line of a checklist, and restore it."""
    found = ListResult()
    found.unmet, found.complete = judged.unmet(name), judged.read_through(pack, name).complete
    for line in pack.checklists[name].lines:
        key = line.id.split(".")[2]
        for signal in signals_to_break(pack, line):
            right = judged.state[signal]
            noticed = _break(pack, name, key, pack.signals[signal], judged)
            (found.broken if noticed else found.unnoticed).add((key, signal))
            judged.put({signal: right}, RESTORED_S)
            if key in judged.unmet(name):
                found.not_restored.add((key, signal))
    return found


def _break(pack: Pack, name: str, key: str, signal: Signal, judged: JudgedState) -> bool:
    """Try wrong values until the line is not met; True if one is found."""
    for wrong in other_values(signal, judged.state[signal.name]):
        judged.put({signal.name: wrong})
        if key in judged.unmet(name):
            assert not judged.read_through(pack, name).complete
            return True
    return False
