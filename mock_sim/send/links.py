"""Opens output links: UDP to one or many, TCP as client or server, ZeroMQ as publisher, and a list in memory.

    udp://127.0.0.1:5501           one receiver; a multicast address sends to all that have joined it
    tcp://127.0.0.1:5501           connects to a receiver that listens
    tcp-listen://127.0.0.1:5501    listens, and sends to every receiver that connects
    zmq://127.0.0.1:5501           binds a publisher

Takes: an address and datagrams.  Gives: bytes on the wire, or `LinkError` if the link cannot be opened.
"""

from __future__ import annotations

import asyncio
import socket
from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from ipaddress import ip_address
from types import TracebackType
from typing import TYPE_CHECKING

from adapters.links.addresses import SCHEMES, parse_link_address
from rules.faults import Fault, InputFaults, LinkError, Place

if TYPE_CHECKING:
    import zmq.asyncio


@dataclass(frozen=True, slots=True)
class OutputAddress:
    """The kind of a link, and a numeric host with a port."""

    kind: str
    host: str
    port: int

    @classmethod
    def parse(cls, text: str) -> OutputAddress:
        """Parse an address.

        Args:
            text: as in `udp://127.0.0.1:5501`.

        Raises:
            InputFaults: it is not an address.
        """
        try:
            parts = parse_link_address(text)
            return cls(parts.scheme, str(ip_address(parts.host)), parts.port)
        except (LinkError, ValueError):
            expected = f"udp://127.0.0.1:5501; kinds: {', '.join(SCHEMES)}"
            raise InputFaults([Fault(Place(text), "not an address", expected)]) from None

    def __str__(self) -> str:
        """Return the address in its written form."""
        return f"{self.kind}://{self.host}:{self.port}"


class OutputLink(ABC):
    """One output.  `async with` opens and closes it; it counts sent and refused messages."""

    def __init__(self) -> None:
        self.message_count = 0
        self.refused_count = 0

    @abstractmethod
    async def __aenter__(self) -> OutputLink:
        """Open the link."""

    @abstractmethod
    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Send what is pending, then close the link."""

    @abstractmethod
    async def send(self, data: bytes) -> None:
        """Send one datagram or message; a missing receiver is counted and is no error."""


@dataclass
class MemoryOutput(OutputLink):
    """Test double of an output, published for tests: stores the messages."""

    messages: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Set the counters to zero."""
        super().__init__()

    async def __aenter__(self) -> MemoryOutput:
        """Return this output."""
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Do nothing."""

    async def send(self, data: bytes) -> None:
        """Store a message."""
        self.messages.append(data)
        self.message_count += 1


class UdpOutput(OutputLink):
    """UDP to one address; not connected, so that it can start before its receiver."""

    def __init__(self, address: OutputAddress) -> None:
        super().__init__()
        self._address = address
        self._socket: socket.socket | None = None

    async def __aenter__(self) -> UdpOutput:
        """Open the socket; multicast stays on this machine and is looped back to it."""
        host = ip_address(self._address.host)
        self._socket = socket.socket(
            socket.AF_INET6 if host.version == 6 else socket.AF_INET, socket.SOCK_DGRAM
        )
        self._socket.settimeout(0)
        if host.is_multicast and host.version == 4:
            self._socket.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 0)
            self._socket.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
            loopback = socket.inet_aton("127.0.0.1")
            self._socket.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, loopback)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the socket."""
        if self._socket is not None:
            self._socket.close()

    async def send(self, data: bytes) -> None:
        """Send one datagram; count it if the system refuses it."""
        assert self._socket is not None, "a link is opened before it sends"  # noqa: S101 - our own mistake
        to = (self._address.host, self._address.port)
        try:
            await asyncio.get_running_loop().sock_sendto(self._socket, data, to)
            self.message_count += 1
        except OSError:
            self.refused_count += 1


class TcpOutput(OutputLink):
    """TCP, as client or server; a line feed or a length separates messages, depending on the format."""

    def __init__(self, address: OutputAddress, *, lines: bool) -> None:
        """Store the address.

        Args:
            address: where to connect, or to listen.
            lines: True: each message ends with a line feed; False: four bytes of length precede it.
        """
        super().__init__()
        self._address = address
        self._lines = lines
        self._server: asyncio.Server | None = None
        self._writers: set[asyncio.StreamWriter] = set()
        self.connected = asyncio.Event()

    async def __aenter__(self) -> TcpOutput:
        """Connect, or start to listen."""
        try:
            if self._address.kind == "tcp":
                _, writer = await asyncio.open_connection(self._address.host, self._address.port)
                self._add_receiver(writer)
            else:
                self._server = await asyncio.start_server(
                    lambda _, writer: self._add_receiver(writer), self._address.host, self._address.port
                )
        except OSError as error:
            raise LinkError(
                f"{self._address}: {error.strerror or error}; is the receiver running?"
            ) from error
        return self

    @property
    def port(self) -> int:
        """The port on which it listens."""
        assert self._server is not None, "only a server listens"  # noqa: S101 - our own mistake
        return int(self._server.sockets[0].getsockname()[1])

    def _add_receiver(self, writer: asyncio.StreamWriter) -> None:
        """Add a receiver."""
        self._writers.add(writer)
        self.connected.set()

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Send what is pending and close."""
        if self._server is not None:
            self._server.close()
        for writer in list(self._writers):
            await self._drop_receiver(writer)

    async def _drop_receiver(self, writer: asyncio.StreamWriter) -> None:
        """Close the connection to a receiver."""
        self._writers.discard(writer)
        writer.close()
        try:
            await writer.wait_closed()
        except OSError:
            self.refused_count += 1

    async def send(self, data: bytes) -> None:
        """Send one message to every receiver; drop a receiver that has gone."""
        framed = data if self._lines else len(data).to_bytes(4, "big") + data
        if self._lines and not data.endswith(b"\n"):
            framed = data + b"\n"
        for writer in list(self._writers):
            try:
                writer.write(framed)
                await writer.drain()
            except OSError:
                self.refused_count += 1
                await self._drop_receiver(writer)
        self.message_count += bool(self._writers)


class ZmqOutput(OutputLink):
    """A ZeroMQ publisher; one message part, no topic."""

    def __init__(self, address: OutputAddress) -> None:
        super().__init__()
        self._address = address
        self._context: zmq.asyncio.Context | None = None
        self._socket: zmq.asyncio.Socket | None = None

    async def __aenter__(self) -> ZmqOutput:
        """Bind the publisher; it does not store messages for later receivers."""
        import zmq
        import zmq.asyncio

        self._context = zmq.asyncio.Context()
        self._socket = self._context.socket(zmq.PUB)
        self._socket.setsockopt(zmq.LINGER, 200)
        try:
            self._socket.bind(f"tcp://{self._address.host}:{self._address.port}")
        except zmq.ZMQError as error:
            self._context.destroy(linger=0)
            raise LinkError(f"{self._address}: {error.strerror}; another port?") from error
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close without waiting for receivers."""
        if self._context is not None:
            self._context.destroy()

    async def send(self, data: bytes) -> None:
        """Publish one message."""
        assert self._socket is not None, "a link is opened before it sends"  # noqa: S101 - our own mistake
        await self._socket.send(data)
        self.message_count += 1


def make_output(address: OutputAddress | str, *, lines: bool = False) -> OutputLink:
    """Return the output for an address; open it with `async with`.

    Args:
        address: where to send.
        lines: on TCP, True: messages end with a line feed; False: their length precedes them.

    Raises:
        InputFaults: it is not an address.
    """
    to = OutputAddress.parse(address) if isinstance(address, str) else address
    if to.kind == "udp":
        return UdpOutput(to)
    return ZmqOutput(to) if to.kind == "zmq" else TcpOutput(to, lines=lines)
