"""Flies whole flights of the mock simulator.

Takes: a flight.  Gives: the slips that its crew made.
"""

from __future__ import annotations

from mock_sim.crew import CrewSlip
from mock_sim.run import Flight


def fly_to_end(flight: Flight) -> list[CrewSlip]:
    """Fly a flight to its end, from before its first moment, and return the slips that the crew made."""
    for _ in flight:
        pass
    return flight.slip_records()
