"""The people: two pilots, the ground, the cabin and air traffic control, each at work on a list of their own."""

from mock_sim.crew.crew import CrewCall, Crew, CrewSlip

__all__ = ["CrewCall", "Crew", "CrewSlip"]
