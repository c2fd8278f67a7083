"""The Halyard 220 with JSBSim: our systems, the library's flight mechanics and engine cores.

Takes: controls as words and numbers, and time.  Gives: all signals of the twin_jet book.
"""

from __future__ import annotations

from mock_sim.jsbsim.embedded.aircraft import JsbsimAircraft
from mock_sim.jsbsim.embedded.engine import JsbsimEngine
from mock_sim.jsbsim.embedded.motion import JsbsimMotion
from mock_sim.twin_jet import Halyard220


class JsbsimHalyard220(Halyard220):
    """One Halyard 220 flown by the library, which is loaded with the first step.

    The first step raises `JsbsimMissingError` if the library is not installed.  It cannot be copied.
    """

    def _build(self) -> None:
        """Build the systems."""
        self._aircraft: JsbsimAircraft | None = None
        super()._build()

    @property
    def aircraft(self) -> JsbsimAircraft:
        """The library's aeroplane."""
        if self._aircraft is None:
            self._aircraft = JsbsimAircraft(self.panel, self.world)
        return self._aircraft

    def _engine(self, k: str) -> JsbsimEngine:
        """Build one engine."""
        return JsbsimEngine(k, self.panel, self.electrical, self.fuel, self.hydraulics, self.aircraft)

    def _motion(self) -> JsbsimMotion:
        """Build the motion."""
        return JsbsimMotion(self.panel, self.aircraft, self.gear, self.autoflight)
