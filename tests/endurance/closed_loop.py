"""Sends datagrams to a watch as fast as it reads them: not more than a window ahead, and nothing while it is behind.

Takes: a watch and one of its devices.  Gives: `ClosedLoopSender`.
"""

from __future__ import annotations

import asyncio
import socket

from adapters.link_report import LinkState
from tests.endurance.process_usage import socket_queue
from tests.endurance.watch_under_test import WatchUnderTest

WINDOW = 256
"""Datagrams that may be on their way: 5 s of a simulator, and much less than the queue of a link."""
BUFFER_BYTES = 1_000_000
"""Bytes that may wait in the buffer of the system; it has several millions, and drops without a word."""
LOOK_EVERY = 16
PAUSE_S = 0.002
MAX_PAUSES = 15_000


class ClosedLoopSender:
    """Sends to one device; `count` datagrams so far."""

    def __init__(self, watch: WatchUnderTest, device: str) -> None:
        """Open a socket; `close` closes it."""
        self.count = 0
        self._follower, self._port = watch.followers[device], watch.ports[device]
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.connect(("127.0.0.1", self._port))

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()

    async def send(self, data: bytes) -> None:
        """Send one datagram when the watch has room for it."""
        if self.count % LOOK_EVERY == 0:
            await self._wait_for_room()
        self._socket.send(data)
        self.count += 1

    async def until_counted(self) -> None:
        """Wait until the watch has counted everything; after many counters without another datagram one was dropped."""
        unchanged = 0
        while self._waiting > 0 and unchanged < 3 * LOOK_EVERY:
            before = self._waiting
            await self._follower.next_counters()
            unchanged = unchanged + 1 if self._waiting == before else 0

    @property
    def _waiting(self) -> int:
        return self.count - self._follower.now.count("Datagrams")

    async def _wait_for_room(self) -> None:
        """Wait for the counters where too much is on its way, and then for the buffer of the system."""
        while self._waiting >= WINDOW or self._follower.now.state == LinkState.BEHIND:
            await self._follower.next_counters()
        for _ in range(MAX_PAUSES):
            if socket_queue(self._port).waiting_bytes <= BUFFER_BYTES:
                return
            await asyncio.sleep(PAUSE_S)
        raise ConnectionError(f"the watch does not read its port {self._port}")
