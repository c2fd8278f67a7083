"""What a schedule and a pilot need of an aeroplane; the library's is one, a test's another.

Takes: nothing.  Gives: `Flown`.
"""

from __future__ import annotations

from typing import Protocol


class AircraftProperties(Protocol):
    """Properties by path, and a clock."""

    @property
    def sim_s(self) -> float:
        """Simulated seconds since the stand."""

    def __getitem__(self, path: str) -> float:
        """A property's value."""

    def __setitem__(self, path: str, value: float) -> None:
        """Write a property."""
