"""Runs a coroutine in a selector event loop, on every platform, since links watch sockets.

Takes: a coroutine.  Gives: its result.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

from rules.faults import HoldshortError

T = TypeVar("T")


def run_async(main: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine to its end.

    Raises:
        HoldshortError: the first one of an exception group that contains no other exceptions.
    """
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        try:
            return runner.run(main)
        except BaseExceptionGroup as group:
            ours = group.subgroup(HoldshortError)
            if ours is None or group.split(HoldshortError)[1] is not None:
                raise
            raise _first_error(ours) from group


def _first_error(group: BaseException) -> BaseException:
    while isinstance(group, BaseExceptionGroup):
        group = group.exceptions[0]
    return group
