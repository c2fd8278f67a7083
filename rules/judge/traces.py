"""What the judge remembers of single signals: which ones somebody moved, and which ones are not fresh.

Takes: the samples of a step.  Gives: `Traces`.  It is run on every sample, so it looks only once at each.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from math import isclose

from rules.signals.model import Quality, Sample, Value

_FRESH = Quality.FRESH

# As `=` of the language: a 32-bit sender does not move a signal by rounding it.
SAME = 1e-6


class Traces:
    """Moved: has had two different values since the session (or the present turn-round) began."""

    def __init__(self, values: Collection[str], readers: Mapping[str, Collection[str]]) -> None:
        """Nothing seen yet.

        Args:
            values: The signals whose moving matters.
            readers: Per signal the items that read it.
        """
        self._readers = readers
        self._values = frozenset(values)
        self._dim = set(readers)
        self._still = set(values)
        self._first: dict[str, Value] = {}
        self._heed: set[str] = self._dim | self._still

    def look(self, samples: Iterable[Sample]) -> set[str]:
        """Take in the samples of one step.

        Returns:
            The items that read a signal which has become fresh, or has ceased to be.
        """
        touched: set[str] = set()
        heed = self._heed
        for name, value, quality, _ in samples:
            if quality is not _FRESH:
                self._lose(name, touched)
            elif name in heed and value is not None:
                self._attend(name, value, touched)
        return touched

    def moved(self, names: Iterable[str]) -> bool:
        """Whether somebody moved one of these signals."""
        return any(name in self._values and name not in self._still for name in names)

    def settle(self, values: Mapping[str, Value]) -> None:
        """Begin anew with what stands now; the aeroplane is turned round."""
        self._still = set(self._values)
        self._first = {name: values[name] for name in self._values if name in values}
        self._heed = self._dim | self._still

    def forget(self) -> None:
        """Begin anew with nothing seen."""
        self._dim = set(self._readers)
        self.settle({})

    def _lose(self, name: str, touched: set[str]) -> None:
        """A signal is not fresh; that is news once."""
        if name not in self._dim and name in self._readers:
            self._dim.add(name)
            self._heed.add(name)
            touched.update(self._readers[name])

    def _attend(self, name: str, value: Value, touched: set[str]) -> None:
        """A signal that was not fresh is so, or one that nobody moved has a value."""
        if name in self._dim:
            self._dim.discard(name)
            touched.update(self._readers[name])
        if name in self._still:
            self._follow(name, value)
        if name not in self._still:
            self._heed.discard(name)

    def _follow(self, name: str, value: Value) -> None:
        """Compare with the first value; once moved, a signal is not looked at again."""
        first = self._first.setdefault(name, value)
        if isinstance(first, str) or isinstance(value, str):
            same = first == value
        else:
            same = isclose(first, value, rel_tol=SAME, abs_tol=SAME)
        if not same:
            self._still.discard(name)
