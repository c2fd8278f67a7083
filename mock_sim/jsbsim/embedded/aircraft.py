"""The library's aeroplane: loaded on first use, placed where the panel says.

The library loads the model to six tenths of the Halyard's mass: thrust over weight is then the Halyard's own (2 times
66.7 kN of the stock engine beside 2 times 112 kN), and with it every rate of the flight.

Takes: position, air, mass.  Gives: `JsbsimAircraft`.
"""

from __future__ import annotations

from math import cos, radians, sin

from mock_sim.common.atmosphere import KT_MS
from mock_sim.common.panel import Panel
from mock_sim.common.world import World
from mock_sim.jsbsim.embedded.flight_model import STEPS_A_SECOND, JsbsimModel
from mock_sim.twin_jet.airports import elevation_ft

MASS_FRACTION = 0.6
LB_KG = 0.45359237
FPS_KT = KT_MS / 0.3048
PSF_HPA = 2.0885434
EMPTY_LB = 48235.0
TANKS = 3
SETTLE_S = 4
STAND = {
    "ic/h-agl-ft": 8.8,
    "ic/vc-kts": 0.0,
    "gear/gear-cmd-norm": 1.0,
    "fcs/left-brake-cmd-norm": 1.0,
    "fcs/right-brake-cmd-norm": 1.0,
    "propulsion/active_engine": -1.0,
    "propulsion/starter_cmd": 0.0,
    "propulsion/cutoff_cmd": 1.0,
    "propulsion/fuel_freeze": 1.0,
    # With the stock rolling friction (0.02) taxi thrust hardly moves it.
    **{f"gear/unit[{wheel}]/rolling_friction_coeff": 0.016 for wheel in range(3)},
}
TEMPERATURE_R = "atmosphere/override/temperature"
PRESSURE_PSF = "atmosphere/override/pressure"


class JsbsimAircraft:
    """Properties by path.  `wheels_height_ft` is the height of the centre of mass above the ground when it is parked."""

    def __init__(self, panel: Panel, world: World) -> None:
        self._panel = panel
        self._world = world
        self._model: JsbsimModel | None = None
        self._heading_deg = 0.0
        self.wheels_height_ft = 0.0

    def place(self, heading_deg: float) -> None:
        """Put it at the panel's position, stopped, engines off; it is loaded again.

        Args:
            heading_deg: heading of the nose.
        """
        self._model = None
        self._heading_deg = heading_deg

    def __getitem__(self, path: str) -> float:
        """Return the value of a property."""
        return self._loaded_model()[path]

    def __setitem__(self, path: str, value: float) -> None:
        """Write a property."""
        self._loaded_model()[path] = value

    def run(self, steps: int) -> None:
        """Run some steps of 1/120 s."""
        self._loaded_model().run(steps)

    def _loaded_model(self) -> JsbsimModel:
        """Return the library's model, loaded and settled on its wheels."""
        if self._model is None:
            numbers = self._panel.numbers
            latitude, longitude = numbers["flight.latitude"], numbers["flight.longitude"]
            where = {
                "ic/lat-geod-deg": latitude,
                "ic/long-gc-deg": longitude,
                "ic/psi-true-deg": self._heading_deg,
                "ic/terrain-elevation-ft": elevation_ft(latitude, longitude),
            }
            library = self._model = JsbsimModel(STAND | where)
            library.add_property(TEMPERATURE_R, 500.0)
            library.add_property(PRESSURE_PSF, 2100.0)
            self.update_environment()
            self.update_mass()
            library.run(SETTLE_S * STEPS_A_SECOND)
            self.wheels_height_ft = library["position/h-agl-ft"]
        return self._model

    def update_environment(self) -> None:
        """Pass on air, wind and ground elevation."""
        numbers = self._panel.numbers
        self[TEMPERATURE_R] = (numbers["flight.outside_air_temperature"] + 273.15) * 1.8
        self[PRESSURE_PSF] = self._world.pressure_hpa * PSF_HPA
        blows, wind = radians(numbers["weather.wind_direction"]), numbers["weather.wind_speed"] * FPS_KT
        self["atmosphere/wind-north-fps"] = -wind * cos(blows)
        self["atmosphere/wind-east-fps"] = -wind * sin(blows)
        self["position/terrain-elevation-asl-ft"] = elevation_ft(
            numbers["flight.latitude"], numbers["flight.longitude"]
        )

    def update_mass(self) -> None:
        """Pass on the mass, with the fuel in its tanks."""
        share = MASS_FRACTION / LB_KG
        self["inertia/pointmass-weight-lbs"] = self._panel.dial["load.zero_fuel_mass"] * share - EMPTY_LB
        for tank in range(TANKS):
            self[f"propulsion/tank[{tank}]/contents-lbs"] = self._panel.numbers["fuel.total"] * share / TANKS
