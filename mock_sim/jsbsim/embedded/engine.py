"""An engine of the Halyard 220 with rotors, fuel flow and thrust from the library.

Start valve, ignition, light-off, exhaust, oil and reverser are ours.  The library's starter holds N2 near 25 % until
the engine is lit; idle is N1 30 and N2 60.  The faults `hung` and `no_n1` have no effect here: the library has no such
starts.

Takes: start valve, flame, thrust lever.  Gives: N1, N2 and fuel flow of the library.
"""

from __future__ import annotations

from math import acos

from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel
from mock_sim.jsbsim.embedded.aircraft import JsbsimAircraft
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.engines import Engine
from mock_sim.twin_jet.fuel import Fuel
from mock_sim.twin_jet.hydraulics import Hydraulics
from mock_sim.twin_jet.power_curves import lever_target

IDLE_N1 = 30.0
LIT_N2 = 4.0
"""N2 added at light-off: our core accelerates by about this between fuel and flame, the library's does not."""
CLIMB_N1_1000_FT = 0.33
"""N1 in per cent that each 1 000 ft adds for the same lever, since the air becomes thin and cold."""
KG_H_PPS = 3600.0 * 0.45359237


class JsbsimEngine(Engine):
    """One engine."""

    def __init__(
        self,
        k: str,
        panel: Panel,
        electrical: Electrical,
        fuel: Fuel,
        hydraulics: Hydraulics,
        aircraft: JsbsimAircraft,
    ) -> None:
        super().__init__(k, panel, electrical, fuel, hydraulics)
        self._aircraft = aircraft
        self._number = int(k) - 1
        self._path = f"propulsion/engine[{self._number}]/"
        self._last_command = (False, False)

    def _light_off(self, n2: float) -> None:
        """Light the engine."""
        super()._light_off(n2 + LIT_N2)

    def _flow(self, *, fuel: bool, n2: float) -> None:
        """Update the fuel flow: the library's once the engine is lit."""
        super()._flow(fuel=fuel, n2=n2)
        burns = self._aircraft[f"{self._path}fuel-flow-rate-pps"] * KG_H_PPS
        if self._spooled and burns > 0.0:
            self._panel.numbers[f"{self._prefix}fuel_flow"] = burns

    def _spools(self, dt_s: float) -> None:  # noqa: ARG002 - the library advances the time
        """Read both rotor speeds, and command the library's engine."""
        self._command()
        numbers, e = self._panel.numbers, self._prefix
        n1, n2 = self._aircraft[f"{self._path}n1"], self._aircraft[f"{self._path}n2"]
        numbers[f"{e}n1"] = n1 if n1 > 0.05 else 0.0
        numbers[f"{e}n2"] = n2 if n2 > 0.05 else 0.0
        self._spooled = self._lit and self._aircraft[f"{self._path}set-running"] > 0.5

    def _command(self) -> None:
        """Command starter, fuel and thrust; the library's starter may not disengage before its engine runs."""
        valve = self._panel.words[f"{self._prefix}start_valve"] == "open"
        wanted = (valve or (self._lit and not self._spooled), self._lit)
        if wanted != self._last_command:
            self._aircraft["propulsion/active_engine"] = self._number
            self._aircraft["propulsion/starter_cmd"] = float(wanted[0])
            self._aircraft["propulsion/cutoff_cmd"] = float(not wanted[1])
            self._last_command = wanted
        lever = self._panel.dial[f"{self._prefix}thrust_lever"]
        if lever < 0.0 and self._reverse < 1.0:
            lever = 0.0
        throttle = clamp((self._target_n1(lever) - IDLE_N1) / (100.0 - IDLE_N1), 0.0, 1.0)
        self._aircraft[f"fcs/throttle-cmd-norm[{self._number}]"] = throttle
        self._aircraft[f"{self._path}reverser-angle-rad"] = acos(clamp(self.thrust_factor, -1.0, 1.0))

    def _target_n1(self, lever: float) -> float:
        """Return the N1 for a lever at this height, per cent."""
        high = clamp(self._panel.numbers["flight.pressure_altitude"] / 1000.0, 0.0, 40.0)
        return lever_target(lever) + CLIMB_N1_1000_FT * high * clamp(lever / 84.0, 0.0, 1.0)
