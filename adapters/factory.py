"""Builds a receiver for a format or map file, and a link for an address.

Takes: names of formats, map files and addresses, as on a command line.  Gives: `Receiver`, `Link`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import TypeVar

from adapters.decoders.base import Decoder
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.key_value import KeyValueDecoder
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.msgpack_map import MsgpackDecoder
from adapters.decoders.packed_struct import PackedStructDecoder
from adapters.decoders.struct_layout import StructLayout, default_layout
from adapters.encode.base import Encoder
from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.encode.packed_struct import PackedStructEncoder
from adapters.encode.text import JsonEncoder, KeyValueEncoder, LabelledCsvEncoder
from adapters.links.addresses import parse_link_address
from adapters.links.base import Clock, Link, LinkLimits
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.mapping.load_map import MapFile
from adapters.mapping.map_plan import IDENTITY
from adapters.mapping.mapper import Mapper
from adapters.receiver import Receiver
from adapters.sequence import SequenceTracker
from rules.signals.model import Signal
from rules.source import unknown_word

_Created = TypeVar("_Created")


def decoder_for(
    format_name: str, *, columns: Sequence[str] = (), table: StructLayout | None = None
) -> Decoder:
    """Make the decoder of a format.

    Args:
        format_name: One of `FORMATS`.
        columns: The column order of labelled CSV until its heading arrives.
        table: The layout of packed records.

    Raises:
        ValueError: The format is unknown, or is `packed_struct` without a layout.
    """
    makers: dict[str, Callable[[], Decoder]] = {
        "msgpack": MsgpackDecoder, "json": JsonDecoder, "key_value": KeyValueDecoder, "labelled_csv": lambda: LabelledCsvDecoder(columns),
    }  # fmt: skip
    if table is not None:
        makers["packed_struct"] = lambda: PackedStructDecoder(table)
    return _create(format_name, makers)


def encoder_for(format_name: str, *, table: StructLayout | None = None, heading_interval: int = 0) -> Encoder:
    """Make the encoder of a format; arguments and errors as for `decoder_for` and `LabelledCsvEncoder`."""
    makers: dict[str, Callable[[], Encoder]] = {
        "msgpack": MsgpackEncoder, "json": JsonEncoder, "key_value": KeyValueEncoder,
        "labelled_csv": lambda: LabelledCsvEncoder(heading_interval),
    }  # fmt: skip
    if table is not None:
        makers["packed_struct"] = lambda: PackedStructEncoder(table)
    return _create(format_name, makers)


def receiver_for(
    signals: Mapping[str, Signal], *, format_name: str = "msgpack", map_file: MapFile | None = None,
    calls: Collection[str] = (), link: str = "",
) -> Receiver:  # fmt: skip
    """Make a receiver for a map file, or for fields that have the names of signals.

    Args:
        signals: The signals that fields can feed.
        format_name: The format, where there is no map file.
        map_file: The map file.
        calls: The calls in a packed record without map file.
        link: The name of the link in the frames.
    """
    if map_file is None:
        table = default_layout(signals, calls) if format_name == "packed_struct" else None
        return Receiver(decoder_for(format_name, table=table), Mapper(signals, IDENTITY, link=link))
    decoder = decoder_for(map_file.format, columns=map_file.columns, table=map_file.struct_layout)
    sequence = SequenceTracker(bits=map_file.number_bits, wrap_s=map_file.wrap_s)
    return Receiver(decoder, Mapper(signals, map_file.plan, link=link), sequence)


def link_for(
    address: str, decoder: Decoder, *, peers: Collection[str] = (), clock: Clock = time.monotonic
) -> Link:
    """Make a link that is not open yet.

    Args:
        address: One of the forms of `adapters.links.addresses.LINK_ADDRESSES`.
        decoder: Gives the framing of a stream, and the datagrams that must not be dropped.
        peers: Addresses that may send; required to listen on more than loopback.
        clock: The monotonic clock in seconds.

    Raises:
        LinkError: The address is not valid, or peers are missing.
    """
    parts = parse_link_address(address)
    host, port = parts.host, parts.port
    limits = LinkLimits(is_essential=decoder.is_essential)
    if parts.scheme == "udp":
        interface = parts.options.get("interface", "127.0.0.1")
        return UdpLink(host, port, interface=interface, peers=peers, clock=clock, limits=limits)
    if parts.scheme == "tcp":
        return TcpClientLink(host, port, framing=decoder.framing, clock=clock, limits=limits)
    if parts.scheme == "tcp-listen":
        return TcpServerLink(host, port, framing=decoder.framing, peers=peers, clock=clock, limits=limits)
    from adapters.links.zeromq import ZmqLink

    return ZmqLink(f"tcp://{host}:{port}", topic=parts.options.get("topic", ""), clock=clock, limits=limits)


def _create(format_name: str, makers: Mapping[str, Callable[[], _Created]]) -> _Created:
    """Call the maker of a format, or raise ValueError with the known formats."""
    if format_name not in makers:
        what, expected, hint = unknown_word("format", format_name, makers)
        raise ValueError(f"{what}, expected {expected}{f' ({hint})' if hint else ''}")
    return makers[format_name]()
