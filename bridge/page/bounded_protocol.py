"""Limits the connections of the page: their number, and the time that a request may take to arrive.

    connection   |---- no whole request within REQUEST_TIMEOUT_S ----| closed
    request      GET ... (whole)      the answer, or a stream, may last
    next one     |---- the same again ----|

Without these limits a client that never ends its request holds a file of this program for as long as it likes, and files
that run out stop the recording.

Takes: connections from uvicorn.  Gives: `BoundedProtocol`.
"""

from __future__ import annotations

import asyncio
from typing import Any

import structlog
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

REQUEST_TIMEOUT_S = 10.0
"""Seconds in which the head of a request must arrive."""
MAX_CONNECTIONS = 128
MAX_PER_PEER = 32
"""Connections of one address at most: a browser opens six."""


class BoundedProtocol(H11Protocol):
    """One connection; it is closed if there are too many, or if its request does not arrive."""

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Accept a connection, or close it at once."""
        super().connection_made(transport)
        host = _host(self)
        of_peer = sum(_host(each) == host for each in self.connections)
        if len(self.connections) > MAX_CONNECTIONS or of_peer > MAX_PER_PEER:
            structlog.get_logger("page").warning(
                "connection refused", peer=host, connections=len(self.connections), of_peer=of_peer
            )
            transport.abort()
            return
        self._follow_request()

    def data_received(self, data: bytes) -> None:
        """Process data, and see whether a request is whole."""
        super().data_received(data)
        self._follow_request()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._cancel_deadline()
        super().connection_lost(exc)

    def _follow_request(self) -> None:
        """Start the time of a request that is not whole; end it when it is."""
        if not self._waits:
            self._cancel_deadline()
        elif self._deadline is None:
            self._deadline = self.loop.call_later(REQUEST_TIMEOUT_S, self._close_if_waiting)

    @property
    def _waits(self) -> bool:
        """True while no whole request is being answered."""
        cycle: RequestResponseCycle | None = self.cycle
        return cycle is None or cycle.response_complete

    def _close_if_waiting(self) -> None:
        """Close the connection if its request did not arrive."""
        self._deadline = None
        if self._waits:
            self.transport.abort()

    def _cancel_deadline(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None


def _host(protocol: Any) -> str:  # noqa: ANN401 - uvicorn's set has any protocol
    """The address of the other side."""
    return str(protocol.client[0]) if protocol.client else ""
