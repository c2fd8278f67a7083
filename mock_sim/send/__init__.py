"""What goes out of the mock simulator: frames in every wire format, over every link, with mischief if asked for."""

from mock_sim.send.formats import FORMATS, encoder_for
from mock_sim.send.frames import Frames, Jump, Outgoing, Pause, call_names
from mock_sim.send.links import Out, OutAddress, open_out
from mock_sim.send.mischief import Mischief, Spoiler, read_mischief
from mock_sim.send.sender import Sent, send_flight, send_to

__all__ = [
    "FORMATS",
    "Frames",
    "Jump",
    "Mischief",
    "Out",
    "OutAddress",
    "Outgoing",
    "Pause",
    "Sent",
    "Spoiler",
    "call_names",
    "encoder_for",
    "open_out",
    "read_mischief",
    "send_flight",
    "send_to",
]
