"""Lists the wire formats by name, each with its encoder.

Takes: a name, and for packed records the signals and calls that make the table.  Gives: an encoder.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from adapters.decoders.struct_layout import default_layout
from adapters.encode.base import Encoder
from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.encode.packed_struct import PackedStructEncoder
from adapters.encode.text import JsonEncoder, KeyValueEncoder, LabelledCsvEncoder
from rules.faults import InputFaults, Place
from rules.signals.model import Signal
from rules.source import unknown_fault
from rules.words import join_or

HEADING_PERIOD_ROWS = 50
"""Rows between two headings of labelled CSV, so that a late receiver, or one that misses a heading, soon has one."""

SELF_DESCRIBING: dict[str, Callable[[], Encoder]] = {
    "labelled_csv": lambda: LabelledCsvEncoder(heading_interval=HEADING_PERIOD_ROWS),
    "key_value": KeyValueEncoder,
    "json": JsonEncoder,
    "msgpack": MsgpackEncoder,
}
PACKED = PackedStructEncoder.format
FORMATS = (*SELF_DESCRIBING, PACKED)
LINE_FORMATS = frozenset({"labelled_csv", "key_value", "json"})
"""Formats whose messages end with a line feed on a stream; the others are preceded by their length."""


def encoder_for(name: str, signals: Mapping[str, Signal] | None = None, calls: Iterable[str] = ()) -> Encoder:
    """Return the encoder of a wire format.

    Args:
        name: one of `FORMATS`.
        signals: for packed records, the fields of the table; sender and receiver need the same.
        calls: for packed records, the calls of the table; also the same.

    Raises:
        InputFaults: no such format.
    """
    if name == PACKED:
        return PackedStructEncoder(default_layout(signals or {}, calls))
    if name not in SELF_DESCRIBING:
        raise InputFaults([unknown_fault(Place("wire format"), "format", name, FORMATS, join_or(FORMATS))])
    return SELF_DESCRIBING[name]()
