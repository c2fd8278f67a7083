"""Tests of bridge.demo.sender: a sender's last line, its failures, and that none is left behind."""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

import pytest

from bridge.demo.sender import SenderError, run_sender
from tests.contract.waiting import wait_until


def python(text: str) -> list[str]:
    """The command of a sender that is this program."""
    return [sys.executable, "-c", text]


async def test_the_last_line_is_what_a_sender_says_of_itself() -> None:
    """Lines before the last are passed over."""
    assert await run_sender(python("print('flying'); print('{\"slips\": [1]}')")) == {"slips": [1]}


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("raise SystemExit(2)", 2, "ended with code 2"),
        ("raise SystemExit(3)", 1, "ended with code 3"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", 1, "was ended by signal 9"),
        ("print('done')", 1, "expected a JSON object"),
        ("print('[1]')", 1, "expected a JSON object"),
        ("", 1, "expected a JSON object"),
    ],
)
async def test_a_sender_that_fails_is_told(text: str, code: int, said: str) -> None:
    """A sender that fails, is killed or says nothing gives an error that says so, with an exit code."""
    with pytest.raises(SenderError, match=said) as caught:
        await run_sender(python(text))
    assert caught.value.code == code


async def test_a_sender_is_ended_with_its_children_when_we_are_stopped(tmp_path: Path) -> None:
    """Cancelled, neither the sender nor a process that it started is left."""
    note = tmp_path / "pids"
    text = (
        "import os, pathlib, subprocess, sys, threading\n"
        "child = subprocess.Popen([sys.executable, '-c', 'import threading; threading.Event().wait()'])\n"
        f"path = pathlib.Path({str(note)!r})\n"
        "path.with_suffix('.new').write_text(f'{os.getpid()} {child.pid}')\n"
        "path.with_suffix('.new').rename(path)\n"
        "threading.Event().wait()\n"
    )
    sending = asyncio.create_task(run_sender(python(text)))
    await wait_until(note.exists, 30)
    pids = [int(pid) for pid in note.read_text().split()]
    assert all(_running(pid) for pid in pids)
    sending.cancel()
    with pytest.raises(asyncio.CancelledError):
        await sending
    await wait_until(lambda: not any(_running(pid) for pid in pids))


def _running(pid: int) -> bool:
    """Whether a process is there and does something (one that was ended may not be buried yet)."""
    try:
        os.kill(pid, 0)
        return "\nState:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except (ProcessLookupError, FileNotFoundError):
        return False
