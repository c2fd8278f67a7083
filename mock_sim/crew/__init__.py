"""The crew: two pilots, ground, cabin and air traffic control, each with its own list of steps."""

from mock_sim.crew.crew import Crew, CrewCall, CrewSlip

__all__ = ["Crew", "CrewCall", "CrewSlip"]
