"""Generates the parts of adapters/README.md: formats, map keys, addresses, status, limits.

Takes: the code.  Gives: `PARTS`.
"""

from __future__ import annotations

from collections.abc import Callable

from adapters import back_off, receiver, sequence
from adapters.decoders import base as decoder_base
from adapters.decoders import nested
from adapters.decoders.base import FORMATS, Decoder
from adapters.decoders.struct_layout import default_layout
from adapters.factory import decoder_for
from adapters.links import base as link_base
from adapters.links import framing, tcp
from adapters.links.addresses import LINK_ADDRESSES
from adapters.links.base import STATUS_MEANINGS, LinkLimits
from adapters.mapping import map_form as forms
from adapters.mapping import mapper
from tests.documents.forms import titled_keys
from tests.documents.markdown import code, table

_LIMITS = LinkLimits()

LIMITS: tuple[tuple[str, str, float, str], ...] = (
    ("LinkLimits.max_queued", "links/base.py", _LIMITS.max_queued, "Datagrams that may wait in a link; then the oldest is dropped."),
    ("LinkLimits.max_queued_bytes", "links/base.py", _LIMITS.max_queued_bytes, "Bytes of all datagrams that may wait in a link; then the oldest is dropped."),
    ("MAX_DATAGRAM_BYTES", "links/base.py", link_base.MAX_DATAGRAM_BYTES, "Bytes of the largest datagram that a link accepts."),
    ("LinkLimits.silent_s", "links/base.py", _LIMITS.silent_s, "Seconds without a datagram after which a link is silent."),
    ("MAX_MESSAGE_BYTES", "links/framing.py", framing.MAX_MESSAGE_BYTES, "Bytes of the largest message that a stream may carry."),
    ("INITIAL_RETRY_S", "links/tcp.py", tcp.INITIAL_RETRY_S, "Seconds before the first new try to connect; each further wait is twice as long."),
    ("MAX_WAIT_S", "back_off.py", back_off.MAX_WAIT_S, "Seconds of the longest wait between two tries."),
    ("MAX_RECORD_BYTES", "decoders/base.py", decoder_base.MAX_RECORD_BYTES, "Bytes of the largest record that a decoder reads."),
    ("MAX_FIELDS", "decoders/base.py", decoder_base.MAX_FIELDS, "Fields of one record at most."),
    ("MAX_DEPTH", "decoders/nested.py", nested.MAX_DEPTH, "Levels of objects inside objects at most."),
    ("MAX_NAME_LENGTH", "decoders/base.py", decoder_base.MAX_NAME_LENGTH, "Characters of the name of a field at most, with the names of the objects around it."),
    ("MAX_NAMES_LENGTH", "decoders/base.py", decoder_base.MAX_NAMES_LENGTH, "Characters of all names of one record at most."),
    ("MAX_RECORDS", "decoders/base.py", decoder_base.MAX_RECORDS, "Records of one datagram at most."),
    ("MAX_PACKET_S", "receiver.py", receiver.MAX_PACKET_S, "Seconds of processor time for the records of one datagram; those that remain then are refused."),
    ("MAX_LAYOUTS", "mapping/mapper.py", mapper.MAX_LAYOUTS, "Layouts of columns that are kept."),
    ("MAX_COLUMNS", "mapping/mapper.py", mapper.MAX_COLUMNS, "Columns of all layouts that are kept, together."),
    ("MAX_TIME_S", "receiver.py", receiver.MAX_TIME_S, "Largest time of the simulator's clock, in seconds; a larger one is refused, with the unit that it looks like."),
    ("RESET_STEP_S", "sequence.py", sequence.RESET_STEP_S, "A step of time back by more than this many seconds is a reset, a smaller one is late."),
    ("LEAP_FORWARD_S", "sequence.py", sequence.LEAP_FORWARD_S, "A step of time forward by more than this many seconds has to be confirmed, if it also exceeds `MAX_TIME_RATIO`."),
    ("MAX_TIME_RATIO", "sequence.py", sequence.MAX_TIME_RATIO, "Largest credible ratio of a step of simulated time to the time between the arrivals."),
    ("REORDER_WINDOW", "sequence.py", sequence.REORDER_WINDOW, "An older number within this distance is late; a more distant one means that the sender restarted."),
    ("MAX_NUMBER_GAP", "sequence.py", sequence.MAX_NUMBER_GAP, "A larger step of the numbers is not counted as a loss; the sender's count has changed."),
    ("STALE_WINDOW_S", "sequence.py", sequence.STALE_WINDOW_S, "Seconds after a reset in which stale records from before it are expected."),
    ("PAUSE_AFTER_S", "sequence.py", sequence.PAUSE_AFTER_S, "The simulation is paused when its clock does not advance for this many seconds while records arrive."),
)  # fmt: skip


def _decoder_class(name: str) -> type[Decoder]:
    return type(decoder_for(name, table=default_layout({})))


def _formats() -> str:
    decoders = [_decoder_class(name) for name in FORMATS]
    return table(
        ("format", "a record", "stream framing", "no value"),
        [(code(each.format), each.record_example, each.framing, each.no_value_forms) for each in decoders],
    )


def _map_keys() -> str:
    return titled_keys(
        {
            "Under `map:`": forms.MapForm,
            "Source of a value; `time`, `sequence`, `paused`, `valid`, each of `calls` and each of `fields` have these keys": forms.SourceForm,
            "`time`, also": forms.ClockForm,
            "`sequence`, also": forms.SequenceForm,
            "Each of `fields`, also": forms.FieldForm,
            "`threshold`": forms.ThresholdForm,
            "`valid`, also": forms.ValidityForm,
            "`struct`": forms.StructForm,
            "Each of `struct.fields`": forms.StructFieldForm,
        }
    )


def _addresses() -> str:
    return table(("address", "link"), [(code(address), text) for address, text in LINK_ADDRESSES.items()])


def _status() -> str:
    return table(("status", "meaning"), list(STATUS_MEANINGS.items()))


def _limits() -> str:
    rows = [
        (code(name), code(f"adapters/{module}"), f"{value:,g}".replace(",", " "), text)
        for name, module, value, text in LIMITS
    ]
    return table(("limit", "module", "value", "meaning"), rows)


PARTS: dict[str, Callable[[], str]] = {
    "decoder formats": _formats,
    "map keys": _map_keys,
    "link addresses": _addresses,
    "link status": _status,
    "reception limits": _limits,
}
