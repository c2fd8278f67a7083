"""The people: two pilots, the ground, the cabin and air traffic control, each at work on a list of their own."""

from mock_sim.crew.crew import Crew, CrewCall, CrewSlip

__all__ = ["Crew", "CrewCall", "CrewSlip"]
