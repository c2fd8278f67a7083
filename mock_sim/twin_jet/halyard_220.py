"""The Halyard 220: all systems of the aeroplane, put together and advanced in time.

Takes: controls as words and numbers, and time.  Gives: all signals of the twin_jet book.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import isfinite

from mock_sim.common.mock_aeroplane import MockAeroplane
from mock_sim.common.noise import Noise
from mock_sim.common.world import World
from mock_sim.twin_jet import (
    airframe,
    airports,
    alerts,
    apu,
    autoflight,
    cabin_doors,
    controls,
    electrical,
    engines,
    fire,
    flight_management,
    fuel,
    gear_brakes,
    hydraulics,
    ice_protection,
    instruments,
    lights_signs,
    motion,
    pneumatic,
    pressurisation,
    takeoff_warning,
)
from rules.signals.book import load_books
from rules.signals.model import Signal

PARTS = tuple(
    module.PART
    for module in (
        airports, motion, airframe, electrical, apu, pneumatic, fuel, hydraulics, engines, controls, gear_brakes, ice_protection,
        lights_signs, fire, cabin_doors, autoflight, instruments, flight_management, pressurisation, takeoff_warning, alerts,
    )
)  # fmt: skip


TANKS = ("left", "centre", "right")
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


@cache
def _book() -> Mapping[str, Signal]:
    """Load the signals of the twin jet once."""
    return load_books(["twin_jet"])


class Halyard220(MockAeroplane):
    """One Halyard 220, parked and without power at the start.

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
        self.world = World(panel, airports.FIELD_ELEVATION_FT)
        self.electrical = electrical.Electrical(panel)
        self.apu = apu.Apu(panel, self.electrical)
        self.pneumatic = pneumatic.Pneumatic(panel, self.electrical, self.apu)
        self.fuel = fuel.Fuel(panel, self.electrical, self.apu)
        self.hydraulics = hydraulics.Hydraulics(panel, self.electrical)
        self.engines = {k: self._engine(k) for k in "12"}
        self.controls = controls.Controls(panel, self.electrical, self.hydraulics)
        self.gear = gear_brakes.GearBrakes(panel, self.electrical, self.hydraulics)
        self.autoflight = autoflight.Autoflight(panel, self.electrical, self.hydraulics)
        self.airframe = airframe.Airframe(panel, self.world, self.engines)
        self.motion = self._motion()
        self.alerts = alerts.Alerts(panel, self.electrical)
        self._systems = (
            self.world,
            self.electrical,
            self.apu,
            self.pneumatic,
            self.fuel,
            self.airframe,
            self.hydraulics,
            *self.engines.values(),
            self.controls,
            self.gear,
            ice_protection.IceProtection(panel, self.electrical),
            lights_signs.LightsSigns(panel, self.electrical),
            fire.Fire(panel, self.electrical),
            cabin_doors.CabinDoors(panel, self.electrical),
            self.autoflight,
            self.motion,
            instruments.Instruments(panel, self.electrical),
            pressurisation.Pressurisation(panel, self.electrical),
            self.alerts,
        )

    def _engine(self, k: str) -> engines.Engine:
        """Build one engine."""
        return engines.Engine(k, self.panel, self.electrical, self.fuel, self.hydraulics)

    def _motion(self) -> motion.MotionModel:
        """Build the motion."""
        return motion.Motion(self.panel, self.world, self.airframe, self.gear, self.autoflight)

    def place(self, latitude: float, longitude: float, heading_deg: float) -> None:
        """Move the aeroplane to another position on the ground; it shows with the next step.

        Args:
            latitude: degrees, -85 to 85, north positive.
            longitude: degrees, -180 to 180, east positive.
            heading_deg: heading of the nose.

        Raises:
            ValueError: the position is not on the sphere.
        """
        if not (abs(latitude) <= 85.0 and abs(longitude) <= 180.0 and isfinite(heading_deg)):
            raise ValueError(f"not a position: {latitude}, {longitude}, heading {heading_deg}")
        self.motion.place(latitude, longitude, heading_deg)
