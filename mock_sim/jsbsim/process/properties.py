"""Protocol of an aircraft with properties by path; the library's aircraft is one, a test double another.

Takes: nothing.  Gives: `AircraftProperties`.
"""

from __future__ import annotations

from typing import Protocol


class AircraftProperties(Protocol):
    """Properties by path, and a clock."""

    @property
    def sim_s(self) -> float:
        """Simulated seconds since the start position."""

    def __getitem__(self, path: str) -> float:
        """Return the value of a property."""

    def __setitem__(self, path: str, value: float) -> None:
        """Write a property."""
