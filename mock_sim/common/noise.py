"""Measurement noise from a fixed seed, so that a run can be repeated exactly.

Takes: the true numbers.  Gives: the numbers with noise.
"""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from rules.signals.model import Signal


class Noise:
    """Adds noise to values that are not zero."""

    def __init__(
        self, signals: Mapping[str, Signal], seed: int, sigmas: Mapping[str, float], tanks: tuple[str, ...]
    ) -> None:
        """Start the random sequence of a seed.

        Args:
            signals: the signal book of the type.
            seed: gives the noise.
            sigmas: standard deviation of each noisy signal.
            tanks: their contents make up the total.
        """
        self._random = Random(seed)
        self._sigmas = [(name, size, signals[name]) for name, size in sigmas.items()]
        self._tanks = tanks

    def add(self, shown: dict[str, float | str], numbers: Mapping[str, float]) -> None:
        """Write the noisy numbers over the true ones.

        Args:
            shown: the published signals, changed in place.
            numbers: the true numbers.
        """
        gauss = self._random.gauss
        total = 0.0
        for name, size, signal in self._sigmas:
            true = numbers[name]
            if true != 0.0:
                shown[name] = min(signal.high, max(signal.low, true + gauss(0.0, size)))
        for tank in self._tanks:
            total += float(shown[f"fuel.tank.{tank}"])
        shown["fuel.total"] = total
