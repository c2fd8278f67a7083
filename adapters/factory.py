"""Puts the parts together: a receiver for a format or map file, a link for an address.

Takes: names as a command line has them.  Gives: `Receiver`, `Link`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import TypeVar
from urllib.parse import SplitResult, parse_qs, urlsplit

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
from adapters.links.base import Clock, Link, LinkLimits
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.mapping.load_map import MapFile
from adapters.mapping.map_plan import IDENTITY
from adapters.mapping.mapper import Mapper
from adapters.receiver import Receiver
from adapters.sequence import SequenceTracker
from rules.faults import LinkError
from rules.signals.model import Signal
from rules.source import nearest_word

FORMATS = ("msgpack", "json", "labelled_csv", "key_value", "packed_struct")
SCHEMES = ("udp", "tcp", "tcp-listen", "zmq")

_Created = TypeVar("_Created")


def decoder_for(
    format_name: str, *, columns: Sequence[str] = (), table: StructLayout | None = None
) -> Decoder:
    """The decoder of a format.

    Raises:
        ValueError: There is no such format, or a packed record without table.
    """
    makers: dict[str, Callable[[], Decoder]] = {
        "msgpack": MsgpackDecoder, "json": JsonDecoder, "key_value": KeyValueDecoder, "labelled_csv": lambda: LabelledCsvDecoder(columns),
    }  # fmt: skip
    if table is not None:
        makers["packed_struct"] = lambda: PackedStructDecoder(table)
    return _create(format_name, makers)


def encoder_for(format_name: str, *, table: StructLayout | None = None, heading_interval: int = 0) -> Encoder:
    """The encoder of a format; arguments and errors as for `decoder_for`, and as for `CsvEncoder`."""
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
    """A receiver.

    Args:
        signals: The signals that fields can feed.
        format_name: The format, where there is no map file: fields bear the signals' names.
        map_file: The map.
        calls: The calls in a packed record without map file.
        link: What the frames call their link.
    """
    if map_file is None:
        table = default_layout(signals, calls) if format_name == "packed_struct" else None
        return Receiver(decoder_for(format_name, table=table), Mapper(signals, IDENTITY, link=link))
    decoder = decoder_for(map_file.format, columns=map_file.columns, table=map_file.struct_layout)
    order = SequenceTracker(bits=map_file.number_bits, wrap_s=map_file.wrap_s)
    return Receiver(decoder, Mapper(signals, map_file.plan, link=link), order)


def link_for(
    address: str, decoder: Decoder, *, peers: Collection[str] = (), clock: Clock = time.monotonic
) -> Link:
    """A link, not yet opened.

    Args:
        address: `udp://127.0.0.1:5139` (a multicast address is joined; `?interface=` says where),
            `tcp://HOST:PORT` (we connect), `tcp-listen://127.0.0.1:PORT` (we are connected to), or
            `zmq://HOST:PORT?topic=NAME`.
        decoder: Says how a stream is cut, and which datagrams must survive catching up.
        peers: Addresses that may send; needed to listen on more than loopback.
        clock: The monotonic clock in seconds.

    Raises:
        LinkError: The address cannot be understood or used.
    """
    parts = _split_address(address)
    host, port = _host_and_port(parts, address)
    bounds = LinkLimits(is_essential=decoder.is_essential)
    options = {key: values[-1] for key, values in parse_qs(parts.query).items()}
    if parts.scheme == "udp":
        interface = options.get("interface", "127.0.0.1")
        return UdpLink(host, port, interface=interface, peers=peers, clock=clock, limits=bounds)
    if parts.scheme == "tcp":
        return TcpClientLink(host, port, framing=decoder.framing, clock=clock, limits=bounds)
    if parts.scheme == "tcp-listen":
        return TcpServerLink(host, port, framing=decoder.framing, peers=peers, clock=clock, limits=bounds)
    from adapters.links.zeromq import ZmqLink

    return ZmqLink(f"tcp://{host}:{port}", topic=options.get("topic", ""), clock=clock, limits=bounds)


def _split_address(address: str) -> SplitResult:
    """The parts of an address; the standard library refuses some by itself."""
    try:
        return urlsplit(address)
    except ValueError as error:
        raise LinkError(f"'{address}' is not an address of a link ({error})") from None


def _host_and_port(parts: SplitResult, address: str) -> tuple[str, int]:
    """The two, checked."""
    if parts.scheme not in SCHEMES:
        near = nearest_word(parts.scheme, SCHEMES)
        hint = f"; did you mean {near}://?" if near else ""
        raise LinkError(f"'{address}' is not an address of a link, expected {'://, '.join(SCHEMES)}://{hint}")
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, None
    if not host or port is None:
        raise LinkError(f"'{address}' lacks host or port, expected such as udp://127.0.0.1:5139")
    return host, port


def _create(format_name: str, makers: Mapping[str, Callable[[], _Created]]) -> _Created:
    """What a format asks for."""
    if format_name not in makers:
        near = nearest_word(format_name, makers)
        hint = f" (did you mean {near}?)" if near else ""
        raise ValueError(f"unknown format '{format_name}', expected one of {', '.join(makers)}{hint}")
    return makers[format_name]()
