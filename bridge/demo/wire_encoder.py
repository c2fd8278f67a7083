"""The encoder of each wire format that the mock simulator sends.

Takes: the name of a wire format.  Gives: its encoder.
"""

from __future__ import annotations

from adapters.decoders.struct_layout import default_layout
from adapters.encode.base import Encoder
from adapters.factory import encoder_for
from bridge.session.input_signals import input_signals
from rules.packs.load_pack import load_pack

TEXT_FORMATS = ("json", "labelled_csv", "key_value")
HEADING_INTERVAL_FRAMES = 50
"""Frames after which a labelled CSV repeats its labels, for a receiver that started late."""


def make_encoder(wire_format: str) -> Encoder:
    """Make the encoder of a wire format that a watch of the twin jet reads without a map file."""
    table = None
    if wire_format == "packed_struct":
        pack = load_pack("twin_jet")
        table = default_layout(input_signals(pack), tuple(pack.calls))
    return encoder_for(wire_format, table=table, heading_interval=HEADING_INTERVAL_FRAMES)
