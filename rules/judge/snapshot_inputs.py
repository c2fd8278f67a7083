"""Inputs of conditions: which explanations may differ after a signal, an item, a call or the time has changed.

Takes: the conditions of a pack.  Gives: `ConditionInputs`, `Change`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from rules.judge.signal_text import placeholders_in
from rules.language import checked_tree as c
from rules.language.traversal import signal_names, walk
from rules.packs.model import Pack

_TIMED = c.TimedHistorically | c.TimedOnce | c.Deadline | c.Window | c.EventCount
"""Nodes whose value changes with the time alone."""


@dataclass(frozen=True, slots=True)
class Change:
    """Difference between two snapshots.

    Attributes:
        signals: signals with another sample.
        items: items with another state.
        watches: watches with another state.
        findings: items and watches that have an open finding and had none, or the other way round.
        calls_changed: True if a call was entered, undone or voided.
    """

    signals: frozenset[str]
    items: frozenset[str]
    watches: frozenset[str]
    findings: frozenset[str]
    calls_changed: bool


@dataclass(slots=True)
class _Inputs:
    """Inputs of one condition."""

    signals: set[str] = field(default_factory=set)
    items: set[str] = field(default_factory=set)
    calls: bool = False
    timed: bool = False


class ConditionInputs:
    """Finds the conditions whose explanation may have changed; one too many costs time, one too few is wrong."""

    def __init__(
        self,
        conditions: Mapping[str, c.Condition | None],
        pack: Pack,
        texts: Mapping[str, Collection[str]] | None = None,
    ) -> None:
        """Start without inputs, which are collected when a condition is first asked for.

        Args:
            conditions: Conditions by any id; None reads nothing.
            pack: Its figures and items are followed to their own inputs.
            texts: Signals in the pack's own sentences, by the same ids.
        """
        self._texts = texts or {}
        self._conditions = conditions
        self._pack = pack
        self._figures = {figure.signal.name: figure for figure in pack.figures}
        self._inputs: dict[str, _Inputs] = {}

    def affected(self, names: Iterable[str], change: Change) -> list[str]:
        """Those of these conditions whose explanation may have changed; conditions that measure time are always among them."""
        return [name for name in names if self._is_affected(name, change)]

    def _is_affected(self, name: str, change: Change) -> bool:
        inputs = self._inputs.get(name)
        if inputs is None:
            inputs = self._inputs[name] = self._inputs_of(self._conditions[name])
            self._add_signals(inputs, self._texts.get(name, ()))
        return (
            inputs.timed
            or (inputs.calls and change.calls_changed)
            or not inputs.signals.isdisjoint(change.signals)
            or not inputs.items.isdisjoint(change.items)
        )

    def _inputs_of(self, condition: c.Condition | None) -> _Inputs:
        """Collect the inputs of a condition, of the items that it reads, and of their figures."""
        inputs, waiting = _Inputs(), [condition]
        while waiting:
            below = waiting.pop()
            if below is None:
                continue
            self._add_signals(inputs, signal_names(below))
            for node in walk(below):
                inputs.calls |= isinstance(node, c.CallEvent)
                inputs.timed |= isinstance(node, _TIMED)
                if isinstance(node, c.ItemMet) and node.item not in inputs.items:
                    inputs.items.add(node.item)
                    waiting.append(self._pack.items[node.item].condition)
        return inputs

    def _add_signals(self, inputs: _Inputs, names: Iterable[str]) -> None:
        """Add signals, and for a figure also the signals that its explanation names."""
        for name in names:
            if name in inputs.signals:
                continue
            inputs.signals.add(name)
            figure = self._figures.get(name)
            if figure is not None:
                self._add_signals(inputs, (*figure.input_signals, *placeholders_in(figure.label)))
