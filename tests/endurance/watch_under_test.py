"""A `holdshort watch` in its own process, with what a long run reads of it: lines, counters, answers, usage.

Takes: a folder, the simulators to watch.  Gives: `WatchUnderTest`.
"""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import sys
import time
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from bridge.runtime.control import send_request
from bridge.session.requests import Request
from rules.faults import LinkError
from rules.packs.load_pack import SHIPPED_DIR
from tests.endurance.link_panel import LinkFollower
from tests.endurance.measurements import WatchEnd, WatchSample
from tests.endurance.process_usage import folder_size, process_usage, socket_queue

PART_BYTES = 4_000_000
"""Size of a part of a recording: small, so that one flight has several."""
WIDE = {"COLUMNS": "200"}
_LINE = re.compile(r"^(?:(\w+) )?(\d+):(\d\d):(\d\d) (PHASE|GATE|CAUTION|WARNING|ADVISORY)\b")
_PROBLEM = re.compile(r"\d DATA .*(record|stor)|could not be recorded")
_SUMMED = re.compile(r"^(\d+) findings?(.*?), (\d+) notices?$")
_NUMBER = re.compile(r"(\d+) (?:events?|not verifiable)")


class WatchUnderTest:
    """A running watch.

    Attributes:
        ports: The UDP port of each device.
        followers: The counters of each device.
        lines: All lines that it printed.
        delays_s: Seconds from sending a state to each line for it.
        answers_s: Seconds until each answer of the control port.
    """

    def __init__(self, process: asyncio.subprocess.Process, folder: Path, ports: Mapping[str, int]) -> None:
        self.process, self.folder, self.ports = process, folder, ports
        self.followers = {device: LinkFollower(device) for device in ports}
        self.lines: list[str] = []
        self.delays_s: list[float] = []
        self.answers_s: list[float] = []
        self.control_port = 0
        self.page = ""
        self.began_s = time.monotonic()
        self._sending_s: dict[tuple[str, int], float] = {}
        self._probe = 0

    def begin_flight(self, device: str) -> None:
        """Forget the times of sending of the flight before, whose clock had the same seconds."""
        self._sending_s = {key: at_s for key, at_s in self._sending_s.items() if key[0] != device}

    def note_sending(self, device: str, sim_s: float) -> None:
        """Note when the first state of a simulated second is sent."""
        self._sending_s.setdefault((device, int(sim_s)), time.monotonic())

    async def read_lines(self) -> None:
        """Read lines until the output ends."""
        assert self.process.stdout is not None
        while data := await self.process.stdout.readline():
            self._take_line(data.decode(errors="replace").rstrip())

    def _take_line(self, line: str) -> None:
        """Store a line, and how long after the sending of its state it came."""
        self.lines.append(line)
        if found := _LINE.match(line):
            device = found[1] or next(iter(self.ports))
            second = int(found[2]) * 3600 + int(found[3]) * 60 + int(found[4])
            if (sending_s := self._sending_s.get((device, second))) is not None:
                self.delays_s.append(time.monotonic() - sending_s)

    async def until_open(self) -> None:
        """Read lines until the watch listens, and note its addresses."""
        assert self.process.stdout is not None
        while data := await self.process.stdout.readline():
            line = data.decode(errors="replace").rstrip()
            self.lines.append(line)
            if found := re.search(r"^page: (http://[^#]+)", line):
                self.page = found[1]
            if found := re.search(r"control port (\d+)", line):
                self.control_port = int(found[1])
            if sum("open, nothing has arrived yet" in each for each in self.lines) == len(self.ports):
                return
        raise ConnectionError(f"the watch ended: {self.lines}")

    async def request(self, request: Request) -> None:
        """Send a request and note how long the answer took; one that did not come in time counts with the time of waiting."""
        began_s = time.monotonic()
        with suppress(LinkError):
            await send_request(request, self.control_port)
        self.answers_s.append(time.monotonic() - began_s)

    async def sample(self, flown_s: float) -> WatchSample:
        """Measure once; the control port answers a numbered remark."""
        self._probe += 1
        device = next(iter(self.ports))
        await self.request(Request("remark", "", reason=f"probe {self._probe}", device=device))
        usage, data = process_usage(self.process.pid), folder_size(self.folder)
        counters = [follower.now for follower in self.followers.values()]
        dropped = sum(each.count("Dropped") for each in counters)
        return WatchSample(
            time.monotonic() - self.began_s, flown_s, usage.memory_mb, usage.open_files, usage.threads,
            data.files, data.size_mb, folder_size(self.folder / "recordings").size_mb,
            sum(each.count("Frames") for each in counters), self.answers_s[-1],
            dropped + sum(socket_queue(port).dropped for port in self.ports.values()),
            sum(each.count("Refused") for each in counters), usage.processor_s,
        )  # fmt: skip

    async def end(self, reading: asyncio.Task[None]) -> WatchEnd:
        """Stop it as Ctrl-C does, and read the rest of its lines."""
        assert self.process.stderr is not None
        self.process.send_signal(signal.SIGINT)
        errors = await self.process.stderr.read()
        await reading
        code = await self.process.wait()
        spooled = folder_size(self.folder / "spool").files
        return WatchEnd(code, errors.decode(errors="replace"), spooled)

    def problems(self) -> list[str]:
        """Lines on problems of recording and storing."""
        return [line for line in self.lines if _PROBLEM.search(line)]

    def printed_counts(self) -> tuple[int, int]:
        """Add up findings and notices of the summaries of all sessions."""
        findings = notices = 0
        for found in filter(None, map(_SUMMED.match, self.lines)):
            findings += int(found[1]) + sum(map(int, _NUMBER.findall(found[2])))
            notices += int(found[3])
        return findings, notices


def free_port() -> int:
    """Give a UDP port that is free now."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as opened:
        opened.bind(("127.0.0.1", 0))
        return int(opened.getsockname()[1])


def _write_devices(folder: Path, packs: Mapping[str, str], ports: Mapping[str, int]) -> Path:
    """Write the device file."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "devices.yaml"
    rows = [
        f'  {device}: {{pack: {pack}, trip: "{SHIPPED_DIR / pack / "trip_demo.yaml"}", link: "udp://127.0.0.1:{ports[device]}"}}\n'
        for device, pack in packs.items()
    ]
    path.write_text("devices:\n" + "".join(rows), encoding="utf-8")
    return path


@asynccontextmanager
async def run_watch_under_test(
    folder: Path, packs: Mapping[str, str], *more: str
) -> AsyncIterator[tuple[WatchUnderTest, asyncio.Task[None]]]:
    """Run a watch of several simulators, each with a shipped pack, and follow its lines and counters.

    Args:
        folder: Where its data go.
        packs: The pack of each device.
        more: Further options.
    """
    ports = {device: free_port() for device in packs}
    devices = _write_devices(folder, packs, ports)
    data = folder / "data"
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.endurance.watch_small_parts", str(PART_BYTES), "watch", "--devices", str(devices),
        "--control-port", "0", "--page", "127.0.0.1:0", "--data-dir", str(data), "--log", str(folder / "log.jsonl"), *more,
        stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.PIPE, env=os.environ | WIDE,
    )  # fmt: skip
    watch = WatchUnderTest(process, data, ports)
    tasks: list[asyncio.Task[None]] = []
    try:
        await watch.until_open()
        reading = asyncio.create_task(watch.read_lines())
        tasks = [reading]
        for follower in watch.followers.values():
            tasks.append(asyncio.create_task(follower.follow(watch.page)))
            await follower.next_counters()
        yield watch, reading
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        if process.returncode is None:
            process.kill()
            await process.communicate()
