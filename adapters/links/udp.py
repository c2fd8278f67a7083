"""UDP link: receives datagrams on one address (unicast) or from a group (multicast).

Each time the socket is readable, it is read until it is empty.  The system's own buffer discards the newest datagram
when it is full, so only an empty buffer makes sure that the newest one reaches us after a stall.  A port is never
shared with a second program (no address reuse on unicast).  When the other side's port is closed (an ICMP refusal),
the error is counted and reception continues.

The event loop must be a selector loop; on Windows start with `asyncio.run(main(), loop_factory=asyncio.SelectorEventLoop)`
or, before Python 3.12, `asyncio.Runner(loop_factory=asyncio.SelectorEventLoop)`.

Takes: an address, and the addresses that may send.  Gives: a `Link`.
"""

from __future__ import annotations

import asyncio
import socket
import struct
import time
from collections.abc import Collection

from adapters.links.addresses import allowed_peers, open_error, parse_ipv4
from adapters.links.base import Clock, Link, LinkLimits
from rules.faults import LinkError

_MAX_READS_PER_WAKEUP = 2048
_RECEIVE_BUFFER_BYTES = 4 << 20
_MAX_CONSECUTIVE_ERRORS = 100


class UdpLink(Link):
    """Receives datagrams on one port."""

    tells_senders_apart = True

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
        """Prepare the link; the port is opened by `async with`.

        Args:
            host: The IPv4 address to listen on; a multicast address is joined.
            port: The port; 0 chooses a free one (read `port` after opening).
            interface: The address of the interface on which a group is joined.
            peers: IPv4 addresses that may send; required for everything but loopback.
            clock: The monotonic clock in seconds.
            limits: The limits of the queue.

        Raises:
            LinkError: The host is not an IPv4 address, or it is not loopback and no peer is named.
        """
        super().__init__(f"udp {host}:{port}", clock=clock, limits=limits)
        self.host, self.port, self._interface = host, port, interface
        self.is_multicast = parse_ipv4(host).is_multicast
        self._allowed_peers = allowed_peers(self.name, interface if self.is_multicast else host, peers)
        self._socket: socket.socket | None = None
        self._consecutive_errors = 0

    async def _open(self) -> None:
        """Bind the socket, join the group, and register the socket with the event loop."""
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
        """Close the socket."""
        if self._socket is not None:
            asyncio.get_running_loop().remove_reader(self._socket)
            self._socket.close()
            self._socket = None

    def _join_group(self, udp_socket: socket.socket) -> None:
        """Join the multicast group; other programs on this machine may join it too."""
        udp_socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        udp_socket.bind((self.host if hasattr(socket, "AF_UNIX") else "", self.port))
        member = struct.pack("4s4s", socket.inet_aton(self.host), socket.inet_aton(self._interface))
        udp_socket.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)

    def _drain(self) -> None:
        """Read every datagram that the system has buffered, up to a limit."""
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
        """Count an error of the socket; the link fails after many errors in a row."""
        self.counts.errors += 1
        self._consecutive_errors += 1
        self.last_error = error.strerror or str(error)
        if self._consecutive_errors >= _MAX_CONSECUTIVE_ERRORS:
            if self._socket is not None:
                asyncio.get_running_loop().remove_reader(self._socket)
            self._fail(LinkError(f"{self.name}: reception failed: {self.last_error}"))
