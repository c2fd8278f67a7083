"""A line of text over UDP, for a simulator that shows messages: one datagram a message, UTF-8, no line ends within.

    caution 0:12:03 first officer: left aft fuel pump is off, needs on

UDP promises nothing: that a datagram was sent does not mean that anybody read it.  Where the system reports that
nobody listens (which it does for the datagram before), it is said, and this datagram is sent all the same.

Takes: envelopes.  Gives: datagrams.
"""

from __future__ import annotations

import asyncio
import socket
import time
import unicodedata

from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, SendError, Wait
from bridge.outputs.notifiers.envelope import Envelope, PlainData

MAX_LINE_BYTES = 240
"""Bytes of a line."""
ELLIPSIS = "…"
UDP_LIMITS = DeliveryLimits(
    max_queued=200, max_attempts=3, first_delay_s=0.5, max_delay_s=5.0, give_up_after_s=30.0
)


class UdpLineNotifier(Notifier):
    """Sends lines to one address."""

    kind_filter = KindFilter(include=("notice",))

    def __init__(
        self,
        host: str,
        port: int,
        *,
        max_bytes: int = MAX_LINE_BYTES,
        limits: DeliveryLimits | None = None,
        kind_filter: KindFilter | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Nothing is opened yet.

        Args:
            host: Where the simulator listens.
            port: And at which port.
            max_bytes: Bytes of the longest line; a longer one is cut between characters and ends in `…`.
            limits: As for every notifier.
            kind_filter: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
        """
        super().__init__(
            f"udp-line {host}:{port}",
            limits=limits or UDP_LIMITS,
            kind_filter=kind_filter,
            clock=clock,
            wait=wait,
        )
        self.refused_count = 0
        self._host, self._port, self._max_bytes = host, port, max_bytes
        self._socket: socket.socket | None = None

    async def _open(self) -> None:
        loop = asyncio.get_running_loop()
        try:
            found = await loop.getaddrinfo(self._host, self._port, type=socket.SOCK_DGRAM)
            family, kind, protocol, _, address = found[0]
            opened = socket.socket(family, kind, protocol)
        except OSError as error:
            raise SendError(f"{self._host} is not known here: {error.strerror or error}") from error
        opened.settimeout(0.0)
        try:
            opened.connect(address)
        except OSError as error:
            opened.close()
            raise SendError(f"cannot send there: {error.strerror or error}") from error
        self._socket = opened

    async def _send(self, message: Envelope) -> None:
        if self._socket is None:
            raise SendError("not open")
        data = format_line(message, self._max_bytes).encode()
        try:
            self._send_datagram(self._socket, data)
        except OSError as error:
            raise SendError(f"cannot send: {error.strerror or error}") from error

    async def _close(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _send_datagram(self, opened: socket.socket, data: bytes) -> None:
        try:
            opened.send(data)
        except ConnectionRefusedError:
            self.refused_count += 1
            opened.send(data)

    def _status_details(self) -> list[str]:
        return [f"{self.refused_count} times nobody listened there"] if self.refused_count else []


def format_line(message: Envelope, max_bytes: int = MAX_LINE_BYTES) -> str:
    """One line for people.

    Args:
        message: Any message.
        max_bytes: Bytes of the line in UTF-8.
    """
    return _truncate(_printable(_message_text(message)), max_bytes)


def _message_text(message: Envelope) -> str:
    body = message.body
    if message.kind == "lost":
        return f"{body['count']} messages were lost before this"
    finding = body.get("finding")
    told = finding if isinstance(finding, dict) else body
    said = told.get("sentence") or told.get("text")
    if not said:
        said = " ".join(_words_of(value) for name, value in told.items() if name not in ("sim_s", "utc"))
    level = f"{message.level} " if message.level else ""
    what = "" if message.kind == "notice" else f"{message.kind.replace('/', ' ')} "
    seat = f" {_words_of(told['seat'])}:" if told.get("seat") else ""
    return f"{level}{what}{_clock_text(message.sim_s)}{seat} {said}"


def _words_of(value: PlainData) -> str:
    return str(value).replace("_", " ")


def _clock_text(sim_s: float) -> str:
    minutes, seconds = divmod(int(sim_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}"


def _printable(text: str) -> str:
    """Nothing that ends a line, moves a cursor, turns the writing round or is half a character (Unicode C*, Zl, Zp)."""
    marks = (mark if unicodedata.category(mark) not in _HIDDEN_CATEGORIES else " " for mark in text)
    return " ".join("".join(marks).split())


_HIDDEN_CATEGORIES = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))


def _truncate(text: str, max_bytes: int) -> str:
    data = text.encode()
    if len(data) <= max_bytes:
        return text
    kept = data[: max(0, max_bytes - len(ELLIPSIS.encode()))].decode(errors="ignore")
    return f"{kept.rstrip()}{ELLIPSIS}"
