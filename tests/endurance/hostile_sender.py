"""Sends hostile packets from a process of its own: `python -m tests.endurance.hostile_sender PORT COUNT SEED RATE`.

Reads good packets as a list in msgpack from standard input; prints the number that was sent, and the seconds.
"""

from __future__ import annotations

import socket
import sys
import time

import msgpack

from tests.endurance.hostile_packets import flood, hostile_packets

BURST = 50
"""Packets between two looks at the clock."""


def main() -> None:
    """Send; with a rate of 0 as fast as the system takes them."""
    port, count, seed, rate = map(int, sys.argv[1:5])
    packets = flood(hostile_packets(msgpack.unpackb(sys.stdin.buffer.read()), seed), seed)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as opened:
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 1 << 20)
        opened.connect(("127.0.0.1", port))
        began_s = time.monotonic()
        for number in range(count):
            opened.send(next(packets))
            if rate and number % BURST == 0:
                time.sleep(max(0.0, began_s + number / rate - time.monotonic()))
        sys.stdout.write(f"{count} {time.monotonic() - began_s}\n")


if __name__ == "__main__":
    main()
