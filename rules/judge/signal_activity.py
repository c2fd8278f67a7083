"""Activity of single signals: which of them were moved, and which are not fresh.

Takes: the samples of a step.  Gives: `SignalActivity`.  It runs on every sample, so it looks at each only once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from rules.signals.equality import has_moved
from rules.signals.model import Quality, Sample, Value

_FRESH = Quality.FRESH


class SignalActivity:
    """Signals that were moved: that had two different values since the session or the present sector began."""

    def __init__(self, value_signals: Collection[str], readers: Mapping[str, Collection[str]]) -> None:
        """Start without samples.

        Args:
            value_signals: Signals whose moves matter.
            readers: Items that read each signal.
        """
        self._readers = readers
        self._value_signals = frozenset(value_signals)
        self._not_fresh = set(readers)
        self._unmoved = set(value_signals)
        self._first_values: dict[str, Value] = {}
        self._observed: set[str] = self._not_fresh | self._unmoved

    def observe(self, samples: Iterable[Sample]) -> set[str]:
        """Process the samples of one step.

        Returns:
            Items that read a signal which became fresh or ceased to be fresh.
        """
        touched: set[str] = set()
        observed = self._observed
        for name, value, quality, _ in samples:
            if quality is not _FRESH:
                self._mark_not_fresh(name, touched)
            elif name in observed and value is not None:
                self._observe_value(name, value, touched)
        return touched

    def moved(self, names: Iterable[str]) -> bool:
        """True if one of these signals was moved."""
        return any(name in self._value_signals and name not in self._unmoved for name in names)

    def rebase(self, values: Mapping[str, Value]) -> None:
        """Count moves from the present values on, for the next sector."""
        self._unmoved = set(self._value_signals)
        self._first_values = {name: values[name] for name in self._value_signals if name in values}
        self._observed = self._not_fresh | self._unmoved

    def reset(self) -> None:
        """Forget all samples."""
        self._not_fresh = set(self._readers)
        self.rebase({})

    def _mark_not_fresh(self, name: str, touched: set[str]) -> None:
        """Mark a signal as not fresh; only the first time touches its readers."""
        if name not in self._not_fresh and name in self._readers:
            self._not_fresh.add(name)
            self._observed.add(name)
            touched.update(self._readers[name])

    def _observe_value(self, name: str, value: Value, touched: set[str]) -> None:
        """Mark a signal as fresh, and compare its value while it is unmoved."""
        if name in self._not_fresh:
            self._not_fresh.discard(name)
            touched.update(self._readers[name])
        if name in self._unmoved:
            self._compare_first(name, value)
        if name not in self._unmoved:
            self._observed.discard(name)

    def _compare_first(self, name: str, value: Value) -> None:
        """Compare with the first value; a signal that was moved is not compared again."""
        first = self._first_values.setdefault(name, value)
        if isinstance(first, str) or isinstance(value, str):
            moved = first != value
        else:
            moved = has_moved(first, value)
        if moved:
            self._unmoved.discard(name)
