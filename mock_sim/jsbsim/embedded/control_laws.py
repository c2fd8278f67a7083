"""Flight control computer: moves the surfaces for wanted pitch and roll rates.

In the air, column, wheel and autopilot command a pitch rate and a roll rate.  On the wheels the surfaces follow the controls.  The library's signs: elevator down and rudder left are positive.

Takes: wanted rates, controls, the library's motion.  Gives: the library's surfaces.  Gains by trial with the stock model.
"""

from __future__ import annotations

from math import radians

from mock_sim.common.dynamics import clamp
from mock_sim.jsbsim.embedded.flight_model import FlightModel

REFERENCE_PSF = 64.5  # 140 kt at sea level: the gains are for this pressure
PITCH_GAIN, PITCH_SUM = 2.6, 3.0
ROLL_GAIN, ROLL_SUM = 1.6, 1.2
ON_GROUND_SHARE = 1.7
ON_GROUND_DAMPING = 5.0


class FlightControlLaws:
    """Commands elevator, ailerons and rudder."""

    def __init__(self, model: FlightModel) -> None:
        self._model = model
        self._pitch_sum = 0.0
        self._roll_sum = 0.0

    def direct(self, elevator: float, aileron: float, rudder: float) -> None:
        """Let the surfaces follow the controls, on the wheels.

        Args:
            elevator: per cent, nose up positive.
            aileron: per cent, right positive.
            rudder: per cent, right positive.
        """
        rises = ON_GROUND_DAMPING * self._model["velocities/thetadot-rad_sec"]
        self._pitch_sum = clamp(ON_GROUND_SHARE * elevator / 100.0 - rises, -1.0, 1.0)
        self._roll_sum = 0.0
        self._model["fcs/elevator-cmd-norm"] = -self._pitch_sum
        self._model["fcs/aileron-cmd-norm"] = aileron / 100.0
        self._model["fcs/rudder-cmd-norm"] = -rudder / 100.0

    def command_rates(self, pitch_deg_s: float, roll_deg_s: float, rudder: float, dt_s: float) -> None:
        """Move the surfaces for pitch and roll rates, in the air.

        Args:
            pitch_deg_s: pitch rate, nose up positive.
            roll_deg_s: roll rate, right positive.
            rudder: per cent, right positive.
            dt_s: seconds since the last time.
        """
        model = self._model
        firm = REFERENCE_PSF / max(15.0, model["aero/qbar-psf"])
        off = radians(pitch_deg_s) - model["velocities/thetadot-rad_sec"]
        self._pitch_sum = clamp(self._pitch_sum + PITCH_SUM * firm * off * dt_s, -1.0, 1.0)
        model["fcs/elevator-cmd-norm"] = -clamp(self._pitch_sum + PITCH_GAIN * firm * off, -1.0, 1.0)
        off = radians(roll_deg_s) - model["velocities/phidot-rad_sec"]
        self._roll_sum = clamp(self._roll_sum + ROLL_SUM * firm * off * dt_s, -0.5, 0.5)
        model["fcs/aileron-cmd-norm"] = clamp(self._roll_sum + ROLL_GAIN * firm * off, -1.0, 1.0)
        model["fcs/rudder-cmd-norm"] = -rudder / 100.0
