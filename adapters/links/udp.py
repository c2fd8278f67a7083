"""UDP: one address (unicast), or a group that we join (multicast).

The socket is read until it is empty each time it has something, so that after a stall the newest datagram is at
hand: the system's own buffer keeps the oldest.  A port is never shared with a second program (no address reuse on
unicast).  That the other side's port is closed (an ICMP refusal) is counted and reception goes on.

The event loop must be a selector loop; on Windows start with `asyncio.run(main(), loop_factory=asyncio.SelectorEventLoop)`
or, before Python 3.12, `asyncio.Runner(loop_factory=asyncio.SelectorEventLoop)`.

Takes: an address, and who may send.  Gives: a `Link`.
"""

from __future__ import annotations

import asyncio
import errno
import socket
import struct
import time
from collections.abc import Collection
from ipaddress import AddressValueError, IPv4Address

from adapters.links.base import Clock, Link, LinkLimits
from rules.faults import LinkError

_MAX_READS_PER_WAKEUP = 2048
_RECEIVE_BUFFER_BYTES = 4 << 20
_MAX_CONSECUTIVE_ERRORS = 100


class UdpLink(Link):
    """Receives datagrams on one port."""

    def __init__(
        self,
        host: str = "127.0.0.1",
        port: int = 0,
        *,
        interface: str = "127.0.0.1",
        peers: Collection[str] = (),
        clock: Clock = time.monotonic,
        limits: LinkLimits | None = None,
    ) -> None:
        """Nothing is opened yet.

        Args:
            host: The IPv4 address to listen on; a multicast address is joined.
            port: The port; 0: one that is free (then see `port` after opening).
            interface: The address of the interface on which a group is joined.
            peers: IPv4 addresses that may send. Needed for everything but loopback.
            clock: The monotonic clock in seconds.
            limits: How much the link holds.

        Raises:
            LinkError: The address is none, or is not loopback and nobody is allowed to send.
        """
        super().__init__(f"udp {host}:{port}", clock=clock, limits=limits)
        self.host, self.port, self._interface = host, port, interface
        self.is_multicast = parse_ipv4(host).is_multicast
        self._allowed_peers = allowed_peers(self.name, interface if self.is_multicast else host, peers)
        self._socket: socket.socket | None = None
        self._consecutive_errors = 0

    async def _open(self) -> None:
        """Bind, join, and let the loop watch the socket."""
        opened = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            opened.settimeout(0.0)
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _RECEIVE_BUFFER_BYTES)
            if self.is_multicast:
                self._join_group(opened)
            else:
                opened.bind((self.host, self.port))
            asyncio.get_running_loop().add_reader(opened, self._drain)
        except OSError as error:
            opened.close()
            raise open_error(self.name, error) from error
        except NotImplementedError as error:
            opened.close()
            raise LinkError(
                f"{self.name}: this event loop cannot watch sockets; start it as a selector loop"
            ) from error
        self._socket = opened
        self.port = opened.getsockname()[1]
        self.name = f"udp {self.host}:{self.port}"

    async def _close(self) -> None:
        """Give the port back."""
        if self._socket is not None:
            asyncio.get_running_loop().remove_reader(self._socket)
            self._socket.close()
            self._socket = None

    def _join_group(self, udp_socket: socket.socket) -> None:
        """Become a member of the group; other programs on this machine may be members too."""
        udp_socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        udp_socket.bind((self.host if hasattr(socket, "AF_UNIX") else "", self.port))
        member = struct.pack("4s4s", socket.inet_aton(self.host), socket.inet_aton(self._interface))
        udp_socket.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)

    def _drain(self) -> None:
        """Take all that the system holds for us, within reason."""
        opened = self._socket
        for _ in range(_MAX_READS_PER_WAKEUP):
            if opened is None:
                return
            try:
                data, (host, port) = opened.recvfrom(self.limits.max_bytes + 1)
            except (BlockingIOError, InterruptedError):
                return
            except OSError as error:
                self._count_error(error)
                continue
            self._consecutive_errors = 0
            if self._allowed_peers and host not in self._allowed_peers:
                self.counts.refused += 1
            else:
                self._enqueue(data, f"{host}:{port}")

    def _count_error(self, error: OSError) -> None:
        """Count what the system reports; only when it reports nothing else is the link gone."""
        self.counts.errors += 1
        self._consecutive_errors += 1
        self.last_error = error.strerror or str(error)
        if self._consecutive_errors >= _MAX_CONSECUTIVE_ERRORS:
            if self._socket is not None:
                asyncio.get_running_loop().remove_reader(self._socket)
            self._fail(LinkError(f"{self.name}: reception failed: {self.last_error}"))


def parse_ipv4(host: str) -> IPv4Address:
    """The address as the library knows it; `localhost` is 127.0.0.1."""
    try:
        return IPv4Address("127.0.0.1" if host == "localhost" else host)
    except AddressValueError:
        raise LinkError(f"'{host}' is not an IPv4 address, expected four numbers such as 127.0.0.1") from None


def allowed_peers(name: str, host: str, peers: Collection[str]) -> frozenset[str]:
    """Who may send; everyone where only this machine can.

    Raises:
        LinkError: The address can be reached from outside and nobody is named, or a peer is no address.
    """
    named = frozenset(str(parse_ipv4(peer)) for peer in peers)
    if not parse_ipv4(host).is_loopback and not named:
        raise LinkError(
            f"{name} can be reached from other machines, expected the addresses that may send (peers)"
        )
    return named


def open_error(name: str, error: OSError) -> LinkError:
    """Why a port could not be had, and what to try."""
    hints = {
        errno.EADDRINUSE: "is in use by another program; stop that one (another bridge?) or choose another port",
        errno.EACCES: "may not be opened by this user; choose a port above 1023",
        errno.EADDRNOTAVAIL: "is not an address of this machine; use 127.0.0.1 or one of its own addresses",
    }
    return LinkError(f"{name} {hints.get(error.errno or 0, f'cannot be opened: {error.strerror or error}')}")
