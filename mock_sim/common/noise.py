"""Small noise on what is measured, from a seed of our own, so that a run can be repeated to the bit.

Takes: the true numbers.  Gives: the numbers as a sensor shows them.
"""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from rules.signals.model import Signal

NOISE_SIGMA = {
    "electrical.battery.voltage": 0.02,
    "electrical.battery.current": 0.2,
    "apu.speed": 0.05,
    "apu.egt": 0.8,
    "bleed.duct.left": 0.12,
    "bleed.duct.right": 0.12,
    "fuel.tank.left": 1.0,
    "fuel.tank.centre": 1.0,
    "fuel.tank.right": 1.0,
    "hydraulics.1.pressure": 6.0,
    "hydraulics.2.pressure": 6.0,
    "gear.brake_accumulator": 3.0,
    "engine.1.n1": 0.04,
    "engine.2.n1": 0.04,
    "engine.1.n2": 0.04,
    "engine.2.n2": 0.04,
    "engine.1.egt": 0.8,
    "engine.2.egt": 0.8,
    "engine.1.fuel_flow": 2.0,
    "engine.2.fuel_flow": 2.0,
    "engine.1.oil_pressure": 0.15,
    "engine.2.oil_pressure": 0.15,
    "engine.1.vibration": 0.03,
    "engine.2.vibration": 0.03,
    "airspeed.captain": 0.15,
    "airspeed.first_officer": 0.15,
    "airspeed.standby": 0.3,
    "altimeter.captain.altitude": 0.8,
    "altimeter.first_officer.altitude": 0.8,
    "altimeter.standby.altitude": 2.0,
    "heading.captain": 0.05,
    "heading.first_officer": 0.05,
    "heading.standby": 0.3,
    "cabin.differential": 0.003,
    "flight.outside_air_temperature": 0.03,
}
"""Standard deviation of each noisy signal, in the signal's own unit."""

TANKS = ("left", "centre", "right")


class Noise:
    """Adds noise to what moves; what rests at zero stays at zero."""

    def __init__(
        self,
        signals: Mapping[str, Signal],
        seed: int,
        sigmas: Mapping[str, float] = NOISE_SIGMA,
        tanks: tuple[str, ...] = TANKS,
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
