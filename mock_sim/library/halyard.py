"""The Halyard 220 of the library: every system of ours, flight mechanics and engine cores of JSBSim.

Takes: controls as words and numbers, and time.  Gives: all signals of the twin_jet book.
"""

from __future__ import annotations

from mock_sim.aeroplane import Aeroplane
from mock_sim.library.motion import LibraryMotion
from mock_sim.library.plane import Plane
from mock_sim.library.turbine import Turbine


class LibraryAeroplane(Aeroplane):
    """One Halyard 220 that the library flies; it is loaded with the first step.

    Raises `LibraryMissingError` with the first step where the library is not installed.  It cannot be copied.
    """

    def _build(self) -> None:
        """Put the systems together."""
        self._plane: Plane | None = None
        super()._build()

    @property
    def plane(self) -> Plane:
        """The library's aeroplane."""
        if self._plane is None:
            self._plane = Plane(self.panel, self.world)
        return self._plane

    def _engine(self, k: str) -> Turbine:
        """One engine."""
        return Turbine(k, self.panel, self.electrical, self.fuel, self.hydraulics, self.plane)

    def _motion(self) -> LibraryMotion:
        """What moves it."""
        return LibraryMotion(self.panel, self.plane, self.gear, self.autoflight)
