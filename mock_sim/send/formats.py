"""The wire formats by name, each with the encoder that writes it.

Takes: a name, and for packed records the signals and calls that make the table.  Gives: an encoder.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from adapters.decoders.table import table_for
from adapters.encode.base import Encoder
from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.encode.packed_struct import StructEncoder
from adapters.encode.text import CsvEncoder, JsonEncoder, KeyValueEncoder
from rules.faults import Fault, InputFaults, Place
from rules.signals.model import Signal
from rules.source import nearest

HEADING_EVERY = 50
"""Rows between two headings of labelled CSV, so that a receiver that comes late, or misses one, soon knows."""

SIMPLE: dict[str, Callable[[], Encoder]] = {
    "labelled_csv": lambda: CsvEncoder(again=HEADING_EVERY),
    "key_value": KeyValueEncoder,
    "json": JsonEncoder,
    "msgpack": MsgpackEncoder,
}
PACKED = StructEncoder.format
FORMATS = (*SIMPLE, PACKED)
LINES = frozenset({"labelled_csv", "key_value", "json"})
"""Formats whose messages end with a line feed on a stream; the others have their length before them."""


def encoder_for(name: str, signals: Mapping[str, Signal] | None = None, calls: Iterable[str] = ()) -> Encoder:
    """The encoder of a wire format.

    Args:
        name: one of `FORMATS`.
        signals: for packed records, what the table holds; sender and receiver need the same.
        calls: for packed records, the calls that the table holds; likewise.

    Raises:
        InputFaults: no such format.
    """
    if name == PACKED:
        return StructEncoder(table_for(signals or {}, calls))
    if name not in SIMPLE:
        near = nearest(name, FORMATS)
        hint = f"did you mean {near}?" if near else ""
        raise InputFaults([Fault(Place("wire format"), f"no format '{name}'", ", ".join(FORMATS), hint)])
    return SIMPLE[name]()
