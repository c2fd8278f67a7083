"""What the judge remembers of single signals: which ones somebody moved, and which ones are not fresh.

Takes: the samples of a step.  Gives: `Traces`.  It is run on every sample, so it looks only once at each.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from math import isclose

from rules.signals.model import Quality, Sample, Value

_FRESH = Quality.FRESH

# As `=` of the language: a 32-bit sender does not move a signal by rounding it.
SAME_TOLERANCE = 1e-6


class SignalActivity:
    """Moved: has had two different values since the session (or the present turn-round) began."""

    def __init__(self, value_signals: Collection[str], readers: Mapping[str, Collection[str]]) -> None:
        """Nothing seen yet.

        Args:
            value_signals: The signals whose moving matters.
            readers: Per signal the items that read it.
        """
        self._readers = readers
        self._value_signals = frozenset(value_signals)
        self._not_fresh = set(readers)
        self._unmoved = set(value_signals)
        self._first_values: dict[str, Value] = {}
        self._observed: set[str] = self._not_fresh | self._unmoved

    def observe(self, samples: Iterable[Sample]) -> set[str]:
        """Take in the samples of one step.

        Returns:
            The items that read a signal which has become fresh, or has ceased to be.
        """
        touched: set[str] = set()
        heed = self._observed
        for name, value, quality, _ in samples:
            if quality is not _FRESH:
                self._mark_not_fresh(name, touched)
            elif name in heed and value is not None:
                self._observe_value(name, value, touched)
        return touched

    def moved(self, names: Iterable[str]) -> bool:
        """Whether somebody moved one of these signals."""
        return any(name in self._value_signals and name not in self._unmoved for name in names)

    def rebase(self, values: Mapping[str, Value]) -> None:
        """Begin anew with what stands now; the aeroplane is turned round."""
        self._unmoved = set(self._value_signals)
        self._first_values = {name: values[name] for name in self._value_signals if name in values}
        self._observed = self._not_fresh | self._unmoved

    def reset(self) -> None:
        """Begin anew with nothing seen."""
        self._not_fresh = set(self._readers)
        self.rebase({})

    def _mark_not_fresh(self, name: str, touched: set[str]) -> None:
        """A signal is not fresh; that is news once."""
        if name not in self._not_fresh and name in self._readers:
            self._not_fresh.add(name)
            self._observed.add(name)
            touched.update(self._readers[name])

    def _observe_value(self, name: str, value: Value, touched: set[str]) -> None:
        """A signal that was not fresh is so, or one that nobody moved has a value."""
        if name in self._not_fresh:
            self._not_fresh.discard(name)
            touched.update(self._readers[name])
        if name in self._unmoved:
            self._compare_first(name, value)
        if name not in self._unmoved:
            self._observed.discard(name)

    def _compare_first(self, name: str, value: Value) -> None:
        """Compare with the first value; once moved, a signal is not looked at again."""
        first = self._first_values.setdefault(name, value)
        if isinstance(first, str) or isinstance(value, str):
            same = first == value
        else:
            same = isclose(first, value, rel_tol=SAME_TOLERANCE, abs_tol=SAME_TOLERANCE)
        if not same:
            self._unmoved.discard(name)
