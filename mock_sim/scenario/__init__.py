"""Reads, checks and merges scenarios of the mock simulator: procedure, slips and events."""

from mock_sim.scenario.check import AeroplaneInterface
from mock_sim.scenario.events import choose_events, with_events
from mock_sim.scenario.load import load_scenario
from mock_sim.scenario.model import Scenario, Slip, SlipKind
from mock_sim.scenario.slips import choose_slips, with_slips

__all__ = [
    "AeroplaneInterface",
    "Scenario",
    "Slip",
    "SlipKind",
    "choose_events",
    "choose_slips",
    "load_scenario",
    "with_events",
    "with_slips",
]
