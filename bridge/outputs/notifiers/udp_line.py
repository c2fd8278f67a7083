"""A notifier that sends each message as a line of text in a UDP datagram, for a simulator that shows messages.

    caution 0:12:03 first officer: left aft fuel pump is off

The line is UTF-8 without line ends.  UDP has no acknowledgement: a datagram that was sent may not have been read.  If the system
reports that the port is closed (it does so for the datagram before), that is counted, and the present datagram is sent.

Takes: envelopes.  Gives: datagrams.
"""

from __future__ import annotations

import asyncio
import socket
import time
import unicodedata
from collections.abc import Mapping

from bridge.common.time_text import format_sim_time
from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, SendError, Wait
from bridge.outputs.notifiers.envelope import Envelope, PlainData
from bridge.session.change_text import NOBODY
from rules.judge.gate_counts import GateCounts, gate_text
from rules.words import words_of_id

MAX_LINE_BYTES = 240
"""Bytes of a line."""
ELLIPSIS = "…"
_TEXT_FIELDS = ("own_sentence", "sentence", "text", "person", "name", "course", "reason", "problem")
_NOT_IN_TEXT = frozenset(("sim_s", "utc", "seat"))
UDP_LIMITS = DeliveryLimits(
    max_queued=200, max_attempts=3, first_delay_s=0.5, max_delay_s=5.0, give_up_after_s=30.0
)


class UdpLineNotifier(Notifier):
    """Sends lines of text to one address."""

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
        """Make a sender.

        Args:
            host: The host of the simulator.
            port: The port of the simulator.
            max_bytes: The longest line in bytes; a longer one is cut between characters and ends in `…`.
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
            raise SendError(f"unknown host {self._host}: {error.strerror or error}") from error
        opened.settimeout(0.0)
        try:
            opened.connect(address)
        except OSError as error:
            opened.close()
            raise SendError(f"cannot send to this address: {error.strerror or error}") from error
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
        return [f"port closed {self.refused_count} times"] if self.refused_count else []


def format_line(message: Envelope, max_bytes: int = MAX_LINE_BYTES) -> str:
    """Write a message as one readable line.

    Args:
        message: Any message.
        max_bytes: The longest line in bytes of UTF-8.
    """
    return _truncate(_printable(_message_text(message)), max_bytes)


def _message_text(message: Envelope) -> str:
    body = message.body
    if message.kind == "lost":
        return f"{body['count']} earlier messages were lost"
    finding = body.get("finding")
    fields = finding if isinstance(finding, dict) else body
    text = _text_of(fields)
    level = f"{message.level} " if message.level else ""
    kind = "" if message.kind == "notice" else f"{words_of_id(message.kind).replace('/', ' ')} "
    seat = f" {words_of_id(fields['seat'])}:" if fields.get("seat") else ""
    return f"{level}{kind}{format_sim_time(message.sim_s)}{seat} {text}"


def _text_of(fields: Mapping[str, PlainData]) -> str:
    """Return the text of an event, with item, reason and author of a waiver; without a text the words of its fields."""
    if fields.get("person", "") is None:
        return NOBODY
    if "judged" in fields:
        counts = GateCounts(
            fields["needs"], fields["judged"], fields["open_items"], 0, fields["other_findings"]
        )
        return f"{words_of_id(fields['gate'])}: {gate_text(counts)}"
    if "item" in fields and "reason" in fields:
        by = f"by {words_of_id(fields['by'])}" if fields["by"] else ""
        return f"{fields['item']}: {', '.join(filter(None, (str(fields['reason']), by)))}"
    text = next((str(fields[name]) for name in _TEXT_FIELDS if fields.get(name)), "")
    if text:
        return f"{text}: {fields['waiver']}" if fields.get("waiver") else text
    said = (
        words_of_id(name) if value is True else words_of_id(value)
        for name, value in fields.items()
        if name not in _NOT_IN_TEXT and value is not False
    )
    return " ".join(said)


def _printable(text: str) -> str:
    """Replace line ends, control characters, direction marks and surrogates by spaces (Unicode C*, Zl, Zp)."""
    chars = (char if unicodedata.category(char) not in _HIDDEN_CATEGORIES else " " for char in text)
    return " ".join("".join(chars).split())


_HIDDEN_CATEGORIES = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))


def _truncate(text: str, max_bytes: int) -> str:
    data = text.encode()
    if len(data) <= max_bytes:
        return text
    start = data[: max(0, max_bytes - len(ELLIPSIS.encode()))].decode(errors="ignore")
    return f"{start.rstrip()}{ELLIPSIS}"
