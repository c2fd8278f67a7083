"""The sender of a demonstration: another process, of which nothing is left behind however this one ends.

Takes: its command.  Gives: what it says of itself in its last line of output.
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
    """The sender did not come to its end; `code` is the exit code that this program ends with for it."""

    def __init__(self, message: str, code: int) -> None:
        """Keep both."""
        super().__init__(message)
        self.code = code


async def run_sender(command: Sequence[str]) -> dict[str, Any]:
    """Run a sender to its end; cancelled, it is ended with all that it started.

    Args:
        command: its words; its last line of output is one JSON object.

    Returns:
        That object.

    Raises:
        SenderError: it failed, was ended by somebody else, or said no such thing.
    """
    # A session of its own: Ctrl-C reaches this process only, which then ends that one.
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True) as sender:  # noqa: S603, ASYNC220 - our own program; waited for in a thread
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
    """End it and its children; it has nothing to lose."""
    if sender.poll() is not None:
        return
    if hasattr(os, "killpg"):
        with suppress(ProcessLookupError):
            os.killpg(sender.pid, signal.SIGKILL)
    else:
        sender.kill()


def _exit_reason(code: int) -> str:
    if code < 0:
        return f"the sender was ended by signal {-code}, expected that it flies to its end"
    return f"the sender ended with code {code}; it says why above"


def _result_of(out: str) -> dict[str, Any]:
    try:
        return msgspec.json.decode(out.strip().rpartition("\n")[2], type=dict[str, Any])
    except msgspec.MsgspecError as error:
        raise SenderError(
            f"the sender's last line is not what a sender says ({error}), expected a JSON object", 1
        ) from error
