"""The pilot of a stock aeroplane: holds the runway heading, pitch and level wings.

Signs are the library's: elevator positive is nose down, rudder positive is nose left, aileron positive rolls right.

Takes: an aircraft.  Gives: `Pilot`, whose `fly` is called once a step.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees

from mock_sim.jsbsim.process.properties import AircraftProperties

MAX_BANK_DEG = 15.0


@dataclass(frozen=True, slots=True)
class Gains:
    """Controller gains of one aeroplane, found by trial; `steer` has the sign of its nose wheel."""

    pitch: float
    pitch_rate: float
    pitch_sum: float
    bank: float
    roll_rate: float
    heading: float
    yaw_rate: float
    rudder_most: float
    steer: float


class StockPilot:
    """Holds the runway's heading on the ground, and pitch and level wings in the air."""

    def __init__(self, aircraft: AircraftProperties, gains: Gains, runway_deg: float) -> None:
        self._aircraft = aircraft
        self._gains = gains
        self._runway_deg = runway_deg
        self._pitch_integral = 0.0
        self.pitch_deg: float | None = None
        self.on_runway = False

    def fly(self) -> None:
        """Run one step of the controllers."""
        if self.pitch_deg is not None:
            self._hold_pitch(self.pitch_deg)
            self._hold_wings()
        elif self.on_runway:
            self._hold_runway()

    def _hold_pitch(self, wanted_deg: float) -> None:
        """Move the elevator for the pitch, with an integral that removes a constant error."""
        gains, aircraft = self._gains, self._aircraft
        off_deg = wanted_deg - aircraft["attitude/theta-deg"]
        self._pitch_integral = _limited(self._pitch_integral + off_deg * gains.pitch_sum, 1.0)
        rate = degrees(aircraft["velocities/q-rad_sec"])
        aircraft["fcs/elevator-cmd-norm"] = _limited(
            gains.pitch_rate * rate - gains.pitch * off_deg - self._pitch_integral, 1.0
        )

    def _hold_wings(self) -> None:
        """Move the ailerons for the bank that corrects the heading; the rudder stays centred."""
        gains, aircraft = self._gains, self._aircraft
        wanted_deg = _limited(-self._off_heading_deg(), MAX_BANK_DEG)
        roll = degrees(aircraft["velocities/p-rad_sec"])
        aircraft["fcs/aileron-cmd-norm"] = _limited(
            gains.bank * (wanted_deg - aircraft["attitude/phi-deg"]) - gains.roll_rate * roll, 0.5
        )
        aircraft["fcs/rudder-cmd-norm"] = 0.0

    def _hold_runway(self) -> None:
        """Move rudder and nose wheel for the runway's heading; nose right of it needs left rudder, which is positive."""
        gains, aircraft = self._gains, self._aircraft
        turn = degrees(aircraft["velocities/r-rad_sec"])
        feet = gains.heading * self._off_heading_deg() + gains.yaw_rate * turn
        aircraft["fcs/rudder-cmd-norm"] = _limited(feet, gains.rudder_most)
        aircraft["fcs/steer-cmd-norm"] = _limited(-gains.steer * feet, gains.rudder_most)

    def _off_heading_deg(self) -> float:
        """Return the heading error right of the runway, -180 to 180 degrees."""
        return (self._aircraft["attitude/psi-deg"] - self._runway_deg + 180.0) % 360.0 - 180.0


def _limited(value: float, most: float) -> float:
    """Limit a value to -`most` to `most`."""
    return max(-most, min(most, value))
