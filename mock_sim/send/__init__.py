"""What goes out of the mock simulator: frames in every wire format, over every link, with mischief if asked for."""

from mock_sim.send.formats import FORMATS, encoder_for
from mock_sim.send.frames import FlightFrames, ClockJump, OutgoingFrame, ClockPause, call_names
from mock_sim.send.links import OutputLink, OutputAddress, make_output
from mock_sim.send.mischief import NetworkFaults, FaultInjector, parse_network_faults
from mock_sim.send.sender import SendSummary, send_flight, send_to

__all__ = [
    "FORMATS",
    "FlightFrames",
    "ClockJump",
    "NetworkFaults",
    "OutputLink",
    "OutputAddress",
    "OutgoingFrame",
    "ClockPause",
    "SendSummary",
    "FaultInjector",
    "call_names",
    "encoder_for",
    "make_output",
    "parse_network_faults",
    "send_flight",
    "send_to",
]
