"""Sends the mock simulator's frames in every wire format over every link, with network faults on request."""

from mock_sim.send.formats import FORMATS, encoder_for
from mock_sim.send.frames import ClockJump, ClockPause, FlightFrames, OutgoingFrame, call_names
from mock_sim.send.links import OutputAddress, OutputLink, make_output
from mock_sim.send.network_faults import FaultInjector, NetworkFaults, parse_network_faults
from mock_sim.send.sender import SendSummary, send_flight, send_to

__all__ = [
    "FORMATS",
    "ClockJump",
    "ClockPause",
    "FaultInjector",
    "FlightFrames",
    "NetworkFaults",
    "OutgoingFrame",
    "OutputAddress",
    "OutputLink",
    "SendSummary",
    "call_names",
    "encoder_for",
    "make_output",
    "parse_network_faults",
    "send_flight",
    "send_to",
]
