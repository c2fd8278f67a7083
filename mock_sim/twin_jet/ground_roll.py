"""Speed of the twin jet on its wheels: pushed by a tug, held by chocks, or under its own power.

Takes: forces, brakes, chocks, tug.  Gives: the speed along the nose after a step.
"""

from __future__ import annotations

from mock_sim.common.atmosphere import KT_MS
from mock_sim.common.dynamics import slew
from mock_sim.common.forces import Forces
from mock_sim.common.panel import Panel
from mock_sim.common.rolling import free_rolling_speed_ms
from mock_sim.twin_jet.gear_brakes import GearBrakes

WHEELBASE_M = 14.5
CHOCKS_HOLD_N = 60000.0
TUG_MS2 = 0.25


def ground_roll_speed_ms(
    panel: Panel, gear: GearBrakes, forces: Forces, speed_ms: float, dt_s: float
) -> float:
    """Return the speed along the nose after a step, m/s, negative backwards.

    Args:
        panel: for the tug and the chocks.
        gear: for the brakes.
        forces: on the aeroplane.
        speed_ms: speed before the step.
        dt_s: length of the step, seconds.
    """
    if panel.switch["gear.chocks"] == "on" and abs(speed_ms) < 0.3 and forces.thrust_n < CHOCKS_HOLD_N:
        return 0.0
    if panel.switch["gear.tug"] == "attached":
        wanted_ms = 0.0 if gear.is_held else panel.dial["tug.speed"] * KT_MS
        return slew(speed_ms, wanted_ms, TUG_MS2 if abs(wanted_ms) > 0.0 else 4 * TUG_MS2, dt_s)
    return free_rolling_speed_ms(forces, gear.braking, speed_ms, dt_s)
