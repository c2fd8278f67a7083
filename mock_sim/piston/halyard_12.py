"""The Halyard 12: all systems of the aeroplane, put together and advanced in time.

Takes: controls as words and numbers, and time.  Gives: all signals of the piston book.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from mock_sim.common.mock_aeroplane import MockAeroplane
from mock_sim.common.noise import Noise
from mock_sim.common.world import World
from mock_sim.piston import (
    airfield,
    airframe,
    cabin,
    carburettor,
    controls,
    electrical,
    engine,
    fuel,
    ignition,
    instruments,
    lights,
    motion,
    pilot,
    vacuum,
    wheels,
)
from mock_sim.piston.airfield import ELEVATION_FT
from rules.signals.book import load_books
from rules.signals.model import Signal

PARTS = tuple(
    module.PART
    for module in (
        airfield, motion, airframe, electrical, fuel, ignition, carburettor, engine, vacuum, controls, wheels, lights, cabin,
        instruments, pilot,
    )
)  # fmt: skip

TANKS = ("left", "right")
NOISE_SIGMA = {
    "electrical.battery.voltage": 0.015,
    "electrical.bus.voltage": 0.02,
    "electrical.ammeter": 0.12,
    "electrical.load": 0.15,
    "fuel.tank.left": 0.12,
    "fuel.tank.right": 0.12,
    "fuel.pressure": 0.03,
    "vacuum.suction": 0.015,
    "engine.1.rpm": 4.0,
    "engine.1.manifold_pressure": 0.05,
    "engine.1.egt": 1.5,
    "engine.1.cht": 0.4,
    "engine.1.oil_pressure": 0.3,
    "engine.1.oil_temperature": 0.2,
    "engine.1.fuel_flow": 0.12,
    "ice.carburettor_temperature": 0.1,
    "airspeed.captain": 0.3,
    "altimeter.captain.altitude": 2.0,
    "heading.captain": 0.15,
    "heading.standby": 0.5,
    "attitude.pitch": 0.05,
    "attitude.bank": 0.08,
    "turn.rate": 0.04,
    "flight.outside_air_temperature": 0.04,
    "cabin.temperature": 0.03,
}
"""Standard deviation of each noisy signal, in the signal's own unit."""


@cache
def _book() -> Mapping[str, Signal]:
    """Load the signals of the piston single once."""
    return load_books(["piston"])


class Halyard12(MockAeroplane):
    """One Halyard 12, parked, covered and tied down at the start.

    The systems are public, for tests; a sender needs only `state()`.
    """

    def __init__(self, *, seed: int = 1, noise: bool = True) -> None:
        """Build the aeroplane.

        Args:
            seed: gives the noise; the same seed and the same steps give the same states.
            noise: False for exact values.
        """
        signals = _book()
        super().__init__(signals, PARTS, Noise(signals, seed, NOISE_SIGMA, TANKS) if noise else None)
        self._build()
        self._publish()

    def _build(self) -> None:
        """Build the systems; their order is the order of the steps."""
        panel = self.panel
        self.world = World(panel, ELEVATION_FT)
        self.electrical = electrical.Electrical(panel)
        self.fuel = fuel.Fuel(panel, self.electrical)
        self.ignition = ignition.Ignition(panel, self.electrical)
        self.carburettor = carburettor.Carburettor(panel)
        self.engine = engine.Engine(panel, self.world, self.fuel, self.ignition, self.carburettor)
        self.vacuum = vacuum.Vacuum(panel, self.electrical)
        self.controls = controls.Controls(panel, self.electrical)
        self.wheels = wheels.Wheels(panel)
        self.airframe = airframe.Airframe(panel, self.world)
        self.motion = motion.Motion(panel, self.world, self.airframe, self.wheels)
        self.pilot = pilot.PistonPilot(panel, self.motion)
        self._systems = (
            self.world,
            self.electrical,
            self.fuel,
            self.ignition,
            self.carburettor,
            self.engine,
            self.vacuum,
            self.pilot,
            self.controls,
            self.wheels,
            self.motion,
            lights.Lights(panel, self.electrical),
            cabin.Cabin(panel),
            instruments.Instruments(panel, self.electrical, self.vacuum),
        )
