"""Airframe: weight, thrust, lift and drag of the invented Halyard 12.

Takes: speed, angle of attack, flaps, engine speed, air.  Gives: forces in newton.  Coefficients are of the invented type: clean
stall near 47 kt, with full flap near 41 kt, about 650 ft/min at 70 kt, about 110 kt at full throttle.
"""

from __future__ import annotations

from itertools import pairwise
from math import radians

from mock_sim.common.atmosphere import KT_MS
from mock_sim.common.dynamics import clamp
from mock_sim.common.forces import GRAVITY, Forces
from mock_sim.common.panel import Panel, Part, quantity_control
from mock_sim.common.world import World
from mock_sim.piston.engine import full_rpm

WING_M2 = 15.5
STATIC_N = 2750.0
NO_THRUST_MS = 105.0
LIFT_PER_RAD = 5.0
STALL_DEG = 15.0
LIFT_LOSS_PER_DEG = 0.09
FLAP_POINTS = (
    (0.0, 0.0, 0.0, 0.0),
    (8.0, 0.2, 0.011, 0.5),
    (16.0, 0.39, 0.023, 1.1),
    (28.0, 0.6, 0.037, 1.8),
)
"""Flap angle in degrees; increments of the lift and drag coefficients; reduction of the stall angle, degrees.

Linear between the points, which are the steps of the lever.
"""

PART = Part(
    controls={"load.zero_fuel_mass": 870.0},
    extra=(
        quantity_control(
            "load.zero_fuel_mass", "kg", 720.0, 1010.0, "Mass of the loaded aeroplane without fuel"
        ),
    ),
)


class Airframe:
    """Mass and aerodynamics."""

    def __init__(self, panel: Panel, world: World) -> None:
        self._panel = panel
        self._world = world

    @property
    def mass_kg(self) -> float:
        """Mass now, kg: loaded aeroplane and fuel."""
        return self._panel.dial["load.zero_fuel_mass"] + self._panel.numbers["fuel.total"]

    def stall_deg(self) -> float:
        """Return the angle of attack at which the wing stalls, degrees; a little less with flaps."""
        return STALL_DEG - flap_effect(self._panel.numbers["controls.flap.position"])[2]

    def forces(self, air_ms: float, incidence_deg: float, height_ft: float) -> Forces:
        """Return the forces at a speed and an angle of attack.

        Args:
            air_ms: true airspeed, m/s.
            incidence_deg: angle of attack, degrees.
            height_ft: above the ground, for the ground effect.
        """
        flap_lift, flap_drag, earlier_deg = flap_effect(self._panel.numbers["controls.flap.position"])
        most = STALL_DEG - earlier_deg
        incidence = clamp(incidence_deg, -14.0, most)
        lift = 0.3 + flap_lift + LIFT_PER_RAD * radians(incidence)
        beyond = max(0.0, incidence_deg - most)
        lift *= max(0.45, 1.0 - LIFT_LOSS_PER_DEG * beyond)
        near = 0.75 if height_ft < 25.0 else 1.0
        drag = 0.032 + flap_drag + 0.055 * near * lift * lift + 0.012 * beyond
        rime = 1.25 if self._panel.words["ice.airframe"] == "yes" else 1.0
        push = 0.5 * self._world.density_kg_m3 * air_ms * air_ms * WING_M2
        weight = self.mass_kg * GRAVITY
        return Forces(
            weight,
            self._thrust(air_ms),
            push * lift / rime,
            push * drag * rime,
            clamp(incidence_deg, -40.0, 40.0),
        )

    def _thrust(self, air_ms: float) -> float:
        """Return the thrust of the propeller; a windmilling one is negative."""
        share = self._panel.numbers["engine.1.rpm"] / full_rpm(air_ms / KT_MS)
        thin = self._world.density_kg_m3 / 1.225
        pull: float = STATIC_N * thin * max(0.0, share) ** 2.4 * (1.0 - air_ms / NO_THRUST_MS)
        return pull - 5.0 * air_ms * max(0.0, 1.0 - share)


def flap_effect(flap_deg: float) -> tuple[float, float, float]:
    """Return the lift and drag coefficients that the flaps add, and the loss of stall angle in degrees.

    Args:
        flap_deg: angle of the flaps, degrees.
    """
    for (low, *from_values), (high, *to_values) in pairwise(FLAP_POINTS):
        if flap_deg <= high:
            share = (flap_deg - low) / (high - low)
            lift, drag, stall = (a + share * (b - a) for a, b in zip(from_values, to_values, strict=True))
            return lift, drag, stall
    return FLAP_POINTS[-1][1:]
