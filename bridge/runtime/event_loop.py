"""Runs a coroutine in a selector event loop, on every platform, since links watch sockets.

Takes: a coroutine.  Gives: its result.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

from rules.faults import HoldshortError

T = TypeVar("T")
MAX_KINDS = 100


def run_async(main: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine to its end.

    Raises:
        HoldshortError: the first one of an exception group that contains no other exceptions.
    """
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        runner.get_loop().set_exception_handler(LoopErrors())
        try:
            return runner.run(main)
        except BaseExceptionGroup as group:
            ours = group.subgroup(HoldshortError)
            if ours is None or group.split(HoldshortError)[1] is not None:
                raise
            raise _first_error(ours) from group


class LoopErrors:
    """Logs what a callback of the event loop could not handle, each kind once.

    Such is an accept that finds no free file: the loop tries again each second, and each time would write a traceback.
    """

    def __init__(self) -> None:
        self._seen: set[str] = set()

    def __call__(self, _: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        """Log one error."""
        message, error = str(context.get("message", "")), context.get("exception")
        kind = f"{message} {type(error).__name__}"
        if kind not in self._seen and len(self._seen) < MAX_KINDS:
            self._seen.add(kind)
            import structlog  # most commands have nothing to log, and its import takes longer than they do

            structlog.get_logger("loop").error(message, why=repr(error))


def _first_error(group: BaseException) -> BaseException:
    while isinstance(group, BaseExceptionGroup):
        group = group.exceptions[0]
    return group
