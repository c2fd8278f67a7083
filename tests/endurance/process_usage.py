"""Reads from the system how much a process uses, what waits in a socket, and how large a folder is (Linux).

Takes: a process id, a UDP port, a folder.  Gives: `ProcessUsage`, `SocketQueue`, `FolderSize`.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

PROCESSES = Path("/proc")
UDP_SOCKETS = PROCESSES / "net" / "udp"
_TICKS_PER_S = os.sysconf("SC_CLK_TCK") if hasattr(os, "sysconf") else 100


class ProcessUsage(NamedTuple):
    """Resident memory in MB, open files, threads, and processor time in seconds."""

    memory_mb: float
    open_files: int
    threads: int
    processor_s: float


class SocketQueue(NamedTuple):
    """Bytes that wait in the system's buffer of a socket, and datagrams that the system dropped because it was full."""

    waiting_bytes: int
    dropped: int


class FolderSize(NamedTuple):
    """Number of files in a folder, and their bytes in units of 1 000 000."""

    files: int
    size_mb: float


def process_usage(process_id: int) -> ProcessUsage:
    """Read the usage of a running process."""
    folder = PROCESSES / str(process_id)
    status = (folder / "status").read_text(encoding="ascii", errors="replace")
    fields = (folder / "stat").read_text(encoding="ascii", errors="replace").rpartition(")")[2].split()
    return ProcessUsage(
        int(_field(status, "VmRSS")) / 1000,
        sum(1 for _ in (folder / "fd").iterdir()),
        int(_field(status, "Threads")),
        (int(fields[11]) + int(fields[12])) / _TICKS_PER_S,
    )


def _field(status: str, name: str) -> str:
    found = re.search(rf"^{name}:\s+(\d+)", status, re.MULTILINE)
    if found is None:
        raise ValueError(f"the system gives no {name}")
    return found[1]


def socket_queue(port: int) -> SocketQueue:
    """Read what waits at a UDP port of this machine; nothing where no socket has it."""
    local = f":{port:04X}"
    for line in UDP_SOCKETS.read_text(encoding="ascii").splitlines()[1:]:
        fields = line.split()
        if fields[1].endswith(local):
            return SocketQueue(int(fields[4].partition(":")[2], 16), int(fields[12]))
    return SocketQueue(0, 0)


def folder_size(folder: Path) -> FolderSize:
    """Add up the files of a folder and its subfolders; one that is removed meanwhile is left out."""
    sizes = []
    for path in folder.rglob("*"):
        with suppress(OSError):
            if path.is_file():
                sizes.append(path.stat().st_size)
    return FolderSize(len(sizes), sum(sizes) / 1e6)
