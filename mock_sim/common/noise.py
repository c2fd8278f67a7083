"""Small noise on what is measured, from a seed of our own, so that a run can be repeated to the bit.

Takes: the true numbers.  Gives: the numbers as a sensor shows them.
"""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from rules.signals.model import Signal


class Noise:
    """Adds noise to what moves; what rests at zero stays at zero."""

    def __init__(
        self, signals: Mapping[str, Signal], seed: int, sigmas: Mapping[str, float], tanks: tuple[str, ...]
    ) -> None:
        """Begin the sequence that belongs to a seed.

        Args:
            signals: the book of the type.
            seed: begins the noise.
            sigmas: standard deviation of each noisy signal.
            tanks: whose contents make up the total.
        """
        self._random = Random(seed)
        self._sigmas = [(name, size, signals[name]) for name, size in sigmas.items()]
        self._tanks = tanks

    def add(self, shown: dict[str, float | str], numbers: Mapping[str, float]) -> None:
        """Write the noisy numbers over the true ones.

        Args:
            shown: what the aeroplane tells, changed in place.
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
