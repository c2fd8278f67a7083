"""Tests of a running watch under hostile datagrams: its memory stays bounded, and a good sender is judged afterwards."""

from __future__ import annotations

import re
import socket
from pathlib import Path

import pytest

from bridge.runtime.control import send_request
from bridge.session.requests import Request
from tests.adapters.test_budgets import HOSTILE, dumps
from tests.bridge.commands.test_watch import connected_socket, run_watch

MEMORY_MB = 400
"""The most that a watch of one simulator takes under any datagrams, the program itself (120 MB) included."""
STATUS = Path("/proc/self/status")


def peak_mb(process_id: int) -> float:
    """The most memory that a process has had, by the system's count."""
    status = Path(f"/proc/{process_id}/status").read_text(encoding="ascii")
    found = re.search(r"^VmHWM:\s+(\d+) kB", status, re.MULTILINE)
    assert found is not None
    return int(found[1]) / 1000


@pytest.mark.skipif(not STATUS.exists(), reason="the system does not count the memory of a process in /proc")
async def test_the_memory_of_a_watch_stays_bounded(tmp_path: Path) -> None:
    """Whatever a stranger sends, nothing of it is kept beyond the budget, and the control port answers after each datagram."""
    keep = ("--data-dir", str(tmp_path / "keep"))
    async with run_watch(tmp_path, "--link", "udp://127.0.0.1:0", "--format", "json", *keep) as watch:
        control_port = int((await watch.until(r"control port (\d+)"))[1])
        port = int((await watch.until(r"LINK udp 127\.0\.0\.1:(\d+): open"))[1])
        with connected_socket(port) as udp_socket:
            udp_socket.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 1 << 20)
            for _, datagram, _ in HOSTILE:
                for number in range(60):
                    udp_socket.send(datagram(number)[:65_000])
                    if not number % 10:
                        assert (
                            await send_request(Request("remark", "", reason="still here"), control_port)
                        ).accepted
            for number in range(20):
                fields = {"time": 1000.0 + number / 10, "lights.beacon": "on", "flight.ground_speed": 0.0}
                udp_socket.send(dumps(fields))
            await watch.until("PHASE    At the stand")
        assert peak_mb(watch._process.pid) < MEMORY_MB
