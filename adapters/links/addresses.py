"""Parses link addresses and the IPv4 addresses of senders, and explains why a port cannot be opened.

Takes: addresses as text.  Gives: their checked parts, or `LinkError`.
"""

from __future__ import annotations

import errno
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from ipaddress import AddressValueError, IPv4Address

from adapters.addresses import Address, split_address, split_options
from rules.faults import LinkError
from rules.source import hint_of, nearest_word
from rules.words import join_or

SCHEMES: Mapping[str, tuple[str, ...]] = {
    "udp": ("interface",),
    "tcp": (),
    "tcp-listen": (),
    "zmq": ("topic",),
}
"""The options of each scheme."""
_CONNECTING = ("tcp", "zmq")
"""Schemes that connect to the port of another program, so that the port must be known."""

LINK_ADDRESSES: Mapping[str, str] = {
    "udp://127.0.0.1:5139": "One receiver (unicast). The port is never shared with a second program.",
    "udp://239.1.2.3:5139?interface=127.0.0.1": (
        "A multicast group, joined on that interface; without one, on 127.0.0.1."
    ),
    "tcp://HOST:PORT": (
        "Connects to the sender. When the connection ends, connects again and shows when the next try is."
    ),
    "tcp-listen://127.0.0.1:PORT": "The sender connects to us. A new connection replaces one that is silent.",
    "zmq://HOST:PORT?topic=NAME": (
        "Subscribes to a publisher. The topic must match exactly (no prefix); of a message of several parts the "
        "last one is the record. Without a topic, all messages are received."
    ),
}
"""Every form of address, with its meaning; the table of adapters/README.md is made of it."""


@dataclass(frozen=True, slots=True)
class LinkAddress:
    """The parts of a link's address, checked."""

    scheme: str
    host: str
    port: int
    options: Mapping[str, str]


def parse_link_address(address: str) -> LinkAddress:
    """Parse an address such as `udp://127.0.0.1:5139?interface=127.0.0.1`.

    Raises:
        LinkError: The scheme or an option is unknown, host or port is missing, or there is more than these.
    """
    try:
        parts = split_address(address)
    except ValueError as error:
        raise LinkError(f"'{address}' is not a link address ({error})") from None
    if parts.scheme not in SCHEMES:
        near = nearest_word(parts.scheme, SCHEMES)
        hint = f"; {hint_of(f'{near}://')}" if near else ""
        raise LinkError(f"'{address}' is not a link address, expected {'://, '.join(SCHEMES)}://{hint}")
    if not parts.host or parts.port is None or (parts.scheme in _CONNECTING and not parts.port):
        expected = f"expected an address such as {parts.scheme}://127.0.0.1:5139"
        raise LinkError(f"'{address}' has no valid host and port, {expected}")
    if parts.host == "*":
        raise LinkError(f"'{address}' names no host, expected the host of the sender, such as 127.0.0.1")
    return LinkAddress(parts.scheme, parts.host, parts.port, _options(address, parts))


def _options(address: str, parts: Address) -> dict[str, str]:
    """Read the options after `?`; refuse unknown ones, and every other part of an address."""
    if parts.path not in ("", "/") or parts.fragment or "@" in parts.place:
        raise LinkError(f"'{address}' has more than host, port and options, expected {parts.public_text}")
    known = SCHEMES[parts.scheme]
    options = split_options(parts.query)
    for name, value in options:
        if name not in known:
            near = nearest_word(name, known)
            expected = f"expected {join_or(known)}" if known else f"{parts.scheme}:// has no options"
            raise LinkError(
                f"'{address}' has an unknown option {name}, {expected}{f'; {hint_of(near)}' if near else ''}"
            )
        if not value:
            raise LinkError(f"'{address}' has the option {name} without a value, expected {name}=VALUE")
    return dict(options)


def parse_ipv4(host: str) -> IPv4Address:
    """Parse an IPv4 address; `localhost` is 127.0.0.1.

    Raises:
        LinkError: The text is not an IPv4 address.
    """
    try:
        return IPv4Address("127.0.0.1" if host == "localhost" else host)
    except AddressValueError:
        raise LinkError(f"'{host}' is not an IPv4 address, expected four numbers such as 127.0.0.1") from None


def allowed_peers(name: str, host: str, peers: Collection[str]) -> frozenset[str]:
    """Check the addresses that may send; an empty set admits every sender on this machine.

    Raises:
        LinkError: The host can be reached from other machines and no peer is named, or a peer is not an address.
    """
    named = frozenset(str(parse_ipv4(peer)) for peer in peers)
    if not parse_ipv4(host).is_loopback and not named:
        raise LinkError(
            f"{name} can be reached from other machines, expected the addresses that may send (--peer ADDRESS, or peers in a device file)"
        )
    return named


def open_error(name: str, error: OSError) -> LinkError:
    """Explain why a port cannot be opened, with a remedy."""
    hints = {
        errno.EADDRINUSE: "is in use by another program; stop that one (another bridge?) or choose another port",
        errno.EACCES: "may not be opened by this user; choose a port above 1023",
        errno.EADDRNOTAVAIL: "is not an address of this machine; use 127.0.0.1 or one of its own addresses",
    }
    return LinkError(f"{name} {hints.get(error.errno or 0, f'cannot be opened: {error.strerror or error}')}")
