"""Runs the sender of a demonstration as another process, and ends it in every case.

Takes: the command.  Gives: the JSON object in the last line of its output.
"""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import msgspec

from rules.faults import HoldshortError


class SenderError(HoldshortError):
    """The sender failed; `code` is the exit code of this program then."""

    def __init__(self, message: str, code: int) -> None:
        super().__init__(message)
        self.code = code


async def run_sender(command: Sequence[str]) -> dict[str, Any]:
    """Run a sender to its end; when cancelled, kill it with its children.

    Args:
        command: program and arguments; the last line of its output is one JSON object.

    Returns:
        That object.

    Raises:
        SenderError: the sender failed, was killed, or printed no such object.
    """
    # With start_new_session Ctrl-C reaches only this process, which then kills the sender.
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True) as sender:  # noqa: S603, ASYNC220 - our own program; a thread waits for it
        ended = asyncio.ensure_future(asyncio.to_thread(sender.communicate))
        try:
            out, _ = await asyncio.shield(ended)
        finally:
            _kill(sender)
            await asyncio.wait([ended])
    if sender.returncode:
        raise SenderError(_exit_reason(sender.returncode), 2 if sender.returncode == 2 else 1)
    return _result_of(out)


def _kill(sender: subprocess.Popen[str]) -> None:
    """Kill the sender and its children; it has no data to save."""
    if sender.poll() is not None:
        return
    if hasattr(os, "killpg"):
        with suppress(ProcessLookupError):
            os.killpg(sender.pid, signal.SIGKILL)
    else:
        sender.kill()


def _exit_reason(code: int) -> str:
    if code < 0:
        return f"the sender was ended by signal {-code}, expected that it runs to its end"
    return f"the sender ended with code {code}; its message is above"


def _result_of(out: str) -> dict[str, Any]:
    try:
        return msgspec.json.decode(out.strip().rpartition("\n")[2], type=dict[str, Any])
    except msgspec.MsgspecError as error:
        raise SenderError(
            f"the sender's last line is not a result ({error}), expected a JSON object", 1
        ) from error
