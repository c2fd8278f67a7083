"""Airframe: weight, thrust, lift and drag of the invented Halyard 220.

Takes: speed, angle of attack, configuration, air.  Gives: forces in newton.  Coefficients are of the invented type.
"""

from __future__ import annotations

from itertools import pairwise
from math import radians

from mock_sim.common.dynamics import clamp
from mock_sim.common.forces import GRAVITY, Forces
from mock_sim.common.panel import Panel, Part, quantity_control
from mock_sim.common.world import World
from mock_sim.twin_jet.engines import Engine

WING_M2 = 125.0
MAX_THRUST_N = 112000.0
LIFT_PER_RAD = 5.6
STALL_DEG = 14.5
FLAP_POINTS = (
    (0.0, 0.0, 0.0), (4.0, 0.017, 0.0013), (8.0, 0.085, 0.0065), (12.0, 0.17, 0.013), (20.0, 0.255, 0.0195),
    (28.0, 0.51, 0.039), (36.0, 0.68, 0.052),
)  # fmt: skip
"""Flap angle in degrees, and increments of the lift and drag coefficients; linear between the points."""

PART = Part(
    controls={"load.zero_fuel_mass": 48600.0, "loading.centre_of_gravity": 24.1},
    drives={"loading.mass": 48600.0},
    extra=(
        quantity_control(
            "load.zero_fuel_mass", "kg", 38000.0, 62000.0, "Mass of the loaded aeroplane without fuel"
        ),
    ),
)


class Airframe:
    """Mass and aerodynamics."""

    def __init__(self, panel: Panel, world: World, engines: dict[str, Engine]) -> None:
        self._panel = panel
        self._world = world
        self._engines = engines

    @property
    def mass_kg(self) -> float:
        """Mass now, kg: loaded aeroplane and fuel."""
        return self._panel.dial["load.zero_fuel_mass"] + self._panel.numbers["fuel.total"]

    def step(self, dt_s: float) -> None:  # noqa: ARG002 - a mass has no memory of its own
        """Update the mass that the model flies with."""
        self._panel.numbers["loading.mass"] = self.mass_kg

    def forces(self, air_ms: float, incidence_deg: float) -> Forces:
        """Return the forces at a speed and an angle of attack.

        Args:
            air_ms: true airspeed, m/s.
            incidence_deg: angle of attack, degrees.
        """
        numbers = self._panel.numbers
        more_lift, more_drag = flap_effect(numbers["controls.flap.position"])
        brake = (numbers["controls.spoiler.left"] + numbers["controls.spoiler.right"]) / 200.0
        clean = self._panel.words["controls.slat.position"] == "retracted"
        incidence = clamp(incidence_deg, -12.0, STALL_DEG - (4.5 if clean else 0.0))
        lift = (0.3 if clean else 0.45) + more_lift + LIFT_PER_RAD * radians(incidence)
        lift *= 1.0 - 0.7 * brake
        gear = numbers["gear.left.position"] / 100.0
        drag = 0.021 + more_drag + 0.02 * gear + 0.09 * brake + 0.045 * lift * lift
        push = 0.5 * self._world.density_kg_m3 * air_ms * air_ms * WING_M2
        weight = self.mass_kg * GRAVITY
        return Forces(weight, self._thrust(air_ms), push * lift, push * drag, incidence)

    def _thrust(self, air_ms: float) -> float:
        """Return the thrust of both engines, less with height and speed."""
        thin: float = (self._world.density_kg_m3 / 1.225) ** 0.8
        slower = 1.0 - 0.4 * min(0.9, air_ms / 330.0)
        total = 0.0
        for k, engine in self._engines.items():
            if self._panel.words[f"engine.{k}.running"] == "no":
                continue
            above = clamp((self._panel.numbers[f"engine.{k}.n1"] - 20.0) / 80.0, 0.0, 1.05)
            total += engine.thrust_factor * MAX_THRUST_N * (0.03 + 0.97 * above**1.8)
        return total * thin * slower


def flap_effect(flap_deg: float) -> tuple[float, float]:
    """Return the lift and drag coefficients that the flaps add.

    Args:
        flap_deg: angle of the flaps, degrees.
    """
    for (low, lift, drag), (high, lift_high, drag_high) in pairwise(FLAP_POINTS):
        if flap_deg <= high:
            share = (flap_deg - low) / (high - low)
            return lift + share * (lift_high - lift), drag + share * (drag_high - drag)
    return FLAP_POINTS[-1][1:]
