"""Runs a watch in a process of its own, and a sender of a small aeroplane's state.

Takes: a folder to write into.  Gives: `WatchProcess`, `AeroplaneSender`.
"""

from __future__ import annotations

import os
import queue
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

import httpx

from rules.signals.model import Value
from tests.bridge.builders import FrameSender, write_pack
from tests.bridge.page.page_builders import PACK

TIMEOUT_S = 40.0
INTERVAL_S = 0.2
READY: dict[str, Value] = {"lights.beacon": "on", "lights.wing": "on"}
"""Values in addition to the defaults of the sender."""
TRIP = "trip: {title: Lindmere 417}\n"


class AeroplaneSender:
    """Sends its state five times a second until it is stopped; a change is sent at once."""

    def __init__(self, port: int) -> None:
        """Prepare a state ready at the stand, without sending."""
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.connect(("127.0.0.1", port))
        self._values: dict[str, Value] = dict(READY)
        self._calls: dict[str, float] = {}
        self._sender, self._lock = FrameSender(), threading.Lock()
        self._stopped = threading.Event()
        self._silent = False
        self._began_s = time.monotonic()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Start to send."""
        self._thread.start()

    def set(self, values: Mapping[str, Value] | None = None, **calls: float) -> None:
        """Change values, and make calls with the time of each."""
        with self._lock:
            self._values.update(values or {})
            self._calls.update(calls)
            self._send()

    def call(self, name: str) -> None:
        """Make a call now."""
        self.set(None, **{name: self._now_s()})

    def pause(self) -> None:
        """Stop to send until `resume`."""
        with self._lock:
            self._silent = True

    def resume(self) -> None:
        """Start to send again."""
        with self._lock:
            self._silent = False

    def reset(self) -> None:
        """Return to the state ready at the stand, without calls."""
        with self._lock:
            self._silent, self._values, self._calls = False, dict(READY), {}

    def stop(self) -> None:
        """Stop to send, and close the socket."""
        self._stopped.set()
        self._thread.join()
        self._socket.close()

    def _run(self) -> None:
        while not self._stopped.wait(INTERVAL_S):
            with self._lock:
                self._send()

    def _now_s(self) -> float:
        return time.monotonic() - self._began_s

    def _send(self) -> None:
        if self._silent:
            return
        with suppress(ConnectionRefusedError):  # the watch is being restarted
            self._socket.send(self._sender.datagram(self._now_s(), self._values, **self._calls))


class WatchProcess:
    """A process that runs `holdshort watch` with the pack of the page's tests and a page."""

    def __init__(self, folder: Path, *, page: str = "127.0.0.1:0", link: str = "udp://127.0.0.1:0") -> None:
        """Start the process, and wait until its link is open."""
        self.folder = folder
        trip = folder / "trip.yaml"
        trip.write_text(TRIP, encoding="utf-8")
        words = [
            "watch", "--pack", str(write_pack(folder / "pack", PACK)), "--trip", str(trip), "--link", link,
            "--control-port", "0", "--page", page, "--key-file", str(folder / "key"), "--headless",
        ]  # fmt: skip
        self._process = subprocess.Popen(
            [sys.executable, "-m", "bridge", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=os.environ | {"COLUMNS": "200", "HOLDSHORT_DATA_DIR": "off"},
        )
        self._lines: queue.Queue[str] = queue.Queue()
        self._output: list[str] = []
        threading.Thread(target=self._read, daemon=True).start()
        found = self.until(r"page: (http://127\.0\.0\.1:(\d+)/)#key=(\S+)")
        self.address, self.page_port, self.key = found[1], int(found[2]), found[3]
        self.link_port = int(self.until(r"LINK udp\W+127\.0\.0\.1:(\d+): (?:open|receiving)")[1])
        self.pid = self._process.pid

    def view(self, name: str) -> str:
        """Return the address of a view."""
        return f"{self.address}device/{name}"

    def begin(self) -> None:
        """Start a new session."""
        request = {"verb": "start_session", "name": "", "by": "instructor"}
        answer = httpx.post(
            f"{self.address}device/do", json=request, headers={"Authorization": f"Bearer {self.key}"}
        )
        answer.raise_for_status()

    def until(self, pattern: str) -> re.Match[str]:
        """Return the match of the next line that matches a pattern."""
        ends_s = time.monotonic() + TIMEOUT_S
        while True:
            try:
                line = self._lines.get(timeout=max(0.0, ends_s - time.monotonic()))
            except queue.Empty:
                raise AssertionError(f"no line matches {pattern}; output:\n{''.join(self._output)}") from None
            self._output.append(line)
            if found := re.search(pattern, line):
                return found

    def end(self, number: int = signal.SIGINT) -> None:
        """End the process with a signal."""
        if self._process.poll() is None:
            self._process.send_signal(number)
        self._process.wait(TIMEOUT_S)
        if self._process.stdout is not None:
            self._process.stdout.close()

    def _read(self) -> None:
        try:
            for line in self._process.stdout or ():
                self._lines.put(line)
        except ValueError:
            pass  # the pipe was closed at the end


@contextmanager
def watch_process(folder: Path, **where: str) -> Iterator[WatchProcess]:
    """Run a watch while the block runs; `page` and `link` are its addresses."""
    watch = WatchProcess(folder, **where)
    try:
        yield watch
    finally:
        watch.end(signal.SIGKILL)


@contextmanager
def aeroplane_sender(watch: WatchProcess) -> Iterator[AeroplaneSender]:
    """Let an aeroplane send while the block runs."""
    aeroplane = AeroplaneSender(watch.link_port)
    aeroplane.start()
    try:
        yield aeroplane
    finally:
        aeroplane.stop()
