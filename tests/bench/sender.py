"""Sends the datagrams of the latency benchmark from a process of its own, with a switch moved in every other one.

The switches alternate, and the sent time advances by 10 s in each datagram, because a notice is not repeated within up to
120 s of the simulator's time.  `bench.sent_s` is the monotonic clock before encoding, which all processes of a machine
share.

Takes: port, number of datagrams, rate; on standard input a `Load`.  Gives: datagrams.
"""

from __future__ import annotations

import socket
import sys
import time

import msgspec

SEND_TIME_FIELD = "bench.sent_s"
STEP_S = 10.0


class Load(msgspec.Struct):
    """All fields, and the switches with their two words."""

    fields: dict[str, float | str | None]
    switches: list[tuple[str, str, str]]


def main(port: int, number: int, rate_hz: float) -> None:
    """Send all datagrams at the rate."""
    load = msgspec.json.decode(sys.stdin.buffer.read(), type=Load)
    encoder = msgspec.msgpack.Encoder()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as outgoing:
        began_s = time.monotonic()
        for count in range(number):
            wait_s = began_s + count / rate_hz - time.monotonic()
            if wait_s > 0:
                time.sleep(wait_s)
            name, resting, moved = load.switches[count // 2 % len(load.switches)]
            load.fields[name] = moved if count % 2 else resting
            if count % 2 == 0:
                last, resting, _ = load.switches[(count // 2 - 1) % len(load.switches)]
                load.fields[last] = resting
            record = {
                "time": count * STEP_S,
                "sequence": count,
                **load.fields,
                SEND_TIME_FIELD: time.monotonic(),
            }
            outgoing.sendto(encoder.encode(record), ("127.0.0.1", port))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))
