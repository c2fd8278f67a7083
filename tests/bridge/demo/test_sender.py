"""Tests of bridge.demo.sender: a sender's last line, its failures, and the end of its processes."""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

import pytest

from bridge.demo.sender import SenderError, run_sender
from tests.contract.waiting import wait_until


def python(program: str) -> list[str]:
    """Return the command that runs this program as a sender."""
    return [sys.executable, "-c", program]


async def test_the_last_line_is_the_result_of_a_sender() -> None:
    """Lines before the last are ignored."""
    assert await run_sender(python("print('flying'); print('{\"slips\": [1]}')")) == {"slips": [1]}


@pytest.mark.parametrize(
    ("program", "code", "expected"),
    [
        ("raise SystemExit(2)", 2, "ended with code 2"),
        ("raise SystemExit(3)", 1, "ended with code 3"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", 1, "was ended by signal 9"),
        ("print('done')", 1, "expected a JSON object"),
        ("print('[1]')", 1, "expected a JSON object"),
        ("", 1, "expected a JSON object"),
    ],
)
async def test_a_failed_sender_is_reported(program: str, code: int, expected: str) -> None:
    """A sender that fails, is killed or prints no result raises an error with the reason and an exit code."""
    with pytest.raises(SenderError, match=expected) as caught:
        await run_sender(python(program))
    assert caught.value.code == code


async def test_cancelling_ends_a_sender_and_its_children(tmp_path: Path) -> None:
    """After a cancellation neither the sender nor a process that it started is left."""
    pid_file = tmp_path / "pids"
    program = (
        "import os, pathlib, subprocess, sys, threading\n"
        "child = subprocess.Popen([sys.executable, '-c', 'import threading; threading.Event().wait()'])\n"
        f"path = pathlib.Path({str(pid_file)!r})\n"
        "path.with_suffix('.new').write_text(f'{os.getpid()} {child.pid}')\n"
        "path.with_suffix('.new').rename(path)\n"
        "threading.Event().wait()\n"
    )
    task = asyncio.create_task(run_sender(python(program)))
    await wait_until(pid_file.exists, 30)
    pids = [int(pid) for pid in pid_file.read_text().split()]
    assert all(_running(pid) for pid in pids)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    await wait_until(lambda: not any(_running(pid) for pid in pids))


def _running(pid: int) -> bool:
    """Return true if a process runs; an ended one that is not yet reaped does not count."""
    try:
        os.kill(pid, 0)
        return "\nState:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except (ProcessLookupError, FileNotFoundError):
        return False
