"""Tests of `holdshort watch` end to end: a separate process, real sockets, lines on a pipe."""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import socket
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from pathlib import Path

import pytest

from bridge.runtime.control import send_request
from bridge.session.requests import Request
from rules.faults import LinkError
from tests.bridge.builders import PACK, FrameSender, write_pack
from tests.bridge.conftest import Command

WITHIN_S = 30.0
BROKEN = PACK.replace(
    "        level: warning\n", "        level: warning\n      - strobe: lights.strob is on\n"
)


class Watch:
    """A watch in a separate process whose output is read line by line."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        """Start with no line read."""
        self._process = process
        self.lines: list[str] = []

    async def until(self, pattern: str) -> re.Match[str]:
        """Read until a line matches; all lines are in `lines`."""
        assert self._process.stdout is not None
        with suppress(TimeoutError):
            async with asyncio.timeout(WITHIN_S):
                while data := await self._process.stdout.readline():
                    line = data.decode().rstrip()
                    self.lines.append(line)
                    if found := re.search(pattern, line):
                        return found
        raise AssertionError(f"no line matches {pattern}: {self.lines}")

    async def end(self, number: signal.Signals) -> tuple[int, str, str]:
        """Send a signal and wait for the end; return exit code and remaining output."""
        self._process.send_signal(number)
        return await self.wait_ended()

    async def wait_ended(self) -> tuple[int, str, str]:
        """Wait until it has ended; return exit code and remaining standard output and error."""
        out, err = await asyncio.wait_for(self._process.communicate(), WITHIN_S)
        assert self._process.returncode is not None
        return self._process.returncode, out.decode(), err.decode()


@asynccontextmanager
async def run_watch(folder: Path, *more: str, text: str = PACK) -> AsyncIterator[Watch]:
    """Run a watch of the small pack."""
    trip = folder / "trip.yaml"
    trip.write_text("trip: {title: Lindmere 417}\n", encoding="utf-8")
    pack = ("--pack", str(write_pack(folder / "pack", text)), "--trip", str(trip))
    arguments = (*pack, "--control-port", "0", "--page", "off", *more)
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "bridge", "watch", *arguments,
        stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE, env=os.environ | {"COLUMNS": "80"},
    )  # fmt: skip
    try:
        yield Watch(process)
    finally:
        if process.returncode is None:
            process.kill()
            await process.communicate()


@contextmanager
def connected_socket(port: int) -> Iterator[socket.socket]:
    """Open a socket connected to a port of this machine."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as udp_socket:
        udp_socket.connect(("127.0.0.1", port))
        yield udp_socket


async def test_a_watch_prints_a_flight_from_first_datagram_to_summary(tmp_path: Path) -> None:
    """Calls, notices, loss of data and a broken condition have their lines; Ctrl-C prints the summary and ends with 0."""
    log = tmp_path / "log.jsonl"
    async with run_watch(tmp_path, "--link", "udp://127.0.0.1:0", "--log", str(log), text=BROKEN) as watch:
        await watch.until(r"unknown name lights\.strob, ")
        await watch.until("1 condition has faults and is shown as unknown; the other conditions work")
        control_port = int((await watch.until(r"control port (\d+)"))[1])
        port = int((await watch.until(r"LINK udp 127\.0\.0\.1:(\d+): open, nothing has arrived yet"))[1])
        sender = FrameSender()
        with connected_socket(port) as udp_socket:
            udp_socket.send(b"\xff\x00 garbage")
            udp_socket.send(sender.datagram(0.0, {"lights.beacon": "off"}))
            await watch.until("0:00:00 PHASE    At the stand")
            refused = await send_request(Request("call", "push_aproved"), control_port)
            assert (refused.accepted, "did you mean push_approved?" in refused.text) == (False, True)
            assert (await send_request(Request("call", "push_approved", "ground"), control_port)).accepted
            await watch.until("0:00:00 CALL     push approved, by ground")
            await watch.until("0:00:00 GATE     Push back at the cue: 2 open")
            assert (await send_request(Request("confirm", "flow.before.documents"), control_port)).accepted
            for second in (1, 2, 3):
                udp_socket.send(sender.datagram(float(second), {"lights.beacon": "off"}))
            await watch.until("CAUTION  Before push back: beacon is off")
            await watch.until(r"LINK .*: no data for \d+ s; its values are unknown until data arrive again")
            udp_socket.send(sender.datagram(4.0, {"lights.beacon": "off"}))
            await watch.until(r"LINK .*: data arrive again: receiving; 1 refused")
            udp_socket.send(sender.datagram(5.0, {"lights.beacon": "off", "flight.ground_speed": 3.0}))
            await watch.until("PHASE    Push back")
        code, out, err = await watch.end(signal.SIGINT)
    assert (code, err) == (0, "")
    assert "omitted, Captain: beacon is off" in out
    assert "not fixed in time" in out
    assert "\x1b" not in "".join(watch.lines) + out
    events = [json.loads(line)["event"] for line in log.read_text(encoding="utf-8").splitlines()]
    assert events[:2] == ["broken condition", "link open"]


async def test_a_port_in_use_is_retried_until_it_is_free(tmp_path: Path) -> None:
    """A link that cannot be opened gives the reason and the time of the next attempt, and opens once it can."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as blocking_socket:
        blocking_socket.bind(("127.0.0.1", 0))
        port = blocking_socket.getsockname()[1]
        async with run_watch(tmp_path, "--link", f"udp://127.0.0.1:{port}") as watch:
            await watch.until(rf"LINK udp.*{port}.* in use by another program.*; trying again in 1 s")
            blocking_socket.close()
            await watch.until(rf"LINK udp 127\.0\.0\.1:{port}: open, nothing has arrived yet")
            code, out, err = await watch.end(signal.SIGTERM)
    assert (code, err) == (1, "")
    assert out.startswith("no data received, nothing was judged")
    assert "0 findings" not in out


async def test_a_control_port_in_use_ends_a_second_watch(tmp_path: Path) -> None:
    """A second watch on the same control port ends at once with exit code 2 and a hint."""
    async with run_watch(tmp_path, "--link", "udp://127.0.0.1:0") as first:
        control_port = (await first.until(r"control port (\d+)"))[1]
        (tmp_path / "second").mkdir()
        async with run_watch(
            tmp_path / "second", "--link", "udp://127.0.0.1:0", "--control-port", control_port
        ) as second:
            out, err = await asyncio.wait_for(second._process.communicate(), WITHIN_S)
            assert (second._process.returncode, out) == (2, b"")
            assert f"port {control_port} on 127.0.0.1 is in use" in err.decode()
            assert "--control-port" in err.decode()
            assert b"Traceback" not in err
        await first.end(signal.SIGINT)
    with pytest.raises(LinkError, match="no watch is running"):
        await send_request(Request("call", "push_approved"), int(control_port))


async def test_a_closed_output_ends_a_watch(tmp_path: Path) -> None:
    """A watch with a closed output ends without a traceback."""
    async with run_watch(tmp_path, "--link", "udp://127.0.0.1:0") as watch:
        port = int((await watch.until(r"LINK udp 127\.0\.0\.1:(\d+): open"))[1])
        process = watch._process
        transport = process._transport.get_pipe_transport(1)  # type: ignore[attr-defined]
        transport.close()
        with connected_socket(port) as udp_socket:
            udp_socket.send(FrameSender().datagram(0.0))
        assert process.stderr is not None
        err = await asyncio.wait_for(process.stderr.read(), WITHIN_S)
        assert await asyncio.wait_for(process.wait(), WITHIN_S) in (0, 1)
    assert b"Traceback" not in err


def test_options_that_a_device_file_contains_are_refused(command: Command, tmp_path: Path) -> None:
    """Every option of one device is refused beside a device file, not ignored."""
    result = command(
        "watch", "--devices", str(tmp_path / "devices.yaml"), "--map", "mine.yaml", "--format", "json",
        "--peer", "10.0.0.7", "--link", "udp://127.0.0.1:5139",
    )  # fmt: skip
    assert result.code == 2
    for option in ("--map", "--format", "--peer", "--link"):
        assert f"{option}: the device file contains this" in result.err


def test_missing_options_are_reported_with_an_example(command: Command) -> None:
    """Each missing option is reported with what it expects and an example; the device file is named once."""
    result = command("watch", "--pack", "twin_jet")
    assert result.code == 2
    assert "--trip is not given, expected the file of a trip sheet" in result.err
    assert "--pack is not given" not in result.err
    assert result.err.count("hint: holdshort watch --pack twin_jet --trip FILE") == 2
    assert result.err.count("--devices FILE") == 1
