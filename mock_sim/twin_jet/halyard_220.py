"""The aeroplane: every system of the invented Halyard 220, put together and stepped through time.

Takes: controls as words and numbers, and time.  Gives: all signals of the twin_jet book.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import isfinite

from mock_sim.common import world
from mock_sim.common.mock_aeroplane import MockAeroplane
from mock_sim.common.noise import Noise
from mock_sim.twin_jet import (
    airframe,
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
        world, motion, airframe, electrical, apu, pneumatic, fuel, hydraulics, engines, controls, gear_brakes, ice_protection,
        lights_signs, fire, cabin_doors, autoflight, instruments, flight_management, pressurisation, takeoff_warning, alerts,
    )
)  # fmt: skip


@cache
def _book() -> Mapping[str, Signal]:
    """The signals of the twin jet, read once."""
    return load_books(["twin_jet"])


class Halyard220(MockAeroplane):
    """One Halyard 220, parked and dark at the stand until somebody touches it.

    Systems are public, for tests and for a curious scenario; a sender needs only `state()`.
    """

    def __init__(self, *, seed: int = 1, noise: bool = True) -> None:
        """Build it.

        Args:
            seed: begins the noise; the same seed and the same steps give the same states.
            noise: False for exact values.
        """
        signals = _book()
        super().__init__(signals, PARTS, Noise(signals, seed) if noise else None)
        self._build()
        self._publish()

    def _build(self) -> None:
        """Put the systems together; the order is the order in which they are stepped."""
        panel = self.panel
        self.world = world.World(panel)
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
        """One engine."""
        return engines.Engine(k, self.panel, self.electrical, self.fuel, self.hydraulics)

    def _motion(self) -> motion.MotionModel:
        """What moves it."""
        return motion.Motion(self.panel, self.world, self.airframe, self.gear, self.autoflight)

    def place(self, latitude: float, longitude: float, heading_deg: float) -> None:
        """Reposition the aeroplane on the field, standing on its wheels; shows with the next step.

        Args:
            latitude: degrees, -85 to 85, north positive.
            longitude: degrees, -180 to 180, east positive.
            heading_deg: where the nose points.

        Raises:
            ValueError: the place is not on this sphere.
        """
        if not (abs(latitude) <= 85.0 and abs(longitude) <= 180.0 and isfinite(heading_deg)):
            raise ValueError(f"no such place: {latitude}, {longitude}, heading {heading_deg}")
        self.motion.place(latitude, longitude, heading_deg)
