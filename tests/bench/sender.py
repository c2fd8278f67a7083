"""The sender of the latency benchmark, in a process of its own: 60 datagrams a second, a switch thrown every other one.

The switches take turns, and the clock that is sent goes on by 10 s each time, because a notice of the same thing is held
back for up to 120 s of the simulator's time.  `bench.sent_s` is the monotonic clock before encoding; that clock is one for
all processes of a machine.

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
    """All fields, and the switches among them with their two words."""

    fields: dict[str, float | str | None]
    switches: list[tuple[str, str, str]]


def main(port: int, number: int, rate_hz: float) -> None:
    """Send them all."""
    load = msgspec.json.decode(sys.stdin.buffer.read(), type=Load)
    encoder = msgspec.msgpack.Encoder()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as outgoing:
        began_s = time.monotonic()
        for count in range(number):
            wait_s = began_s + count / rate_hz - time.monotonic()
            if wait_s > 0:
                time.sleep(wait_s)
            name, resting, thrown = load.switches[count // 2 % len(load.switches)]
            load.fields[name] = thrown if count % 2 else resting
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
