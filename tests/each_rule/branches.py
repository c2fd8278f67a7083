"""Branches of a flight: child processes that inherit the judge's state, so that this needs POSIX.

Takes: what a branch computes.  Gives: its result, or its exception.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Branch(Generic[Result]):
    """A child process that computes one result.

    Args:
        compute: Called in the child.
    """

    def __init__(self, compute: Callable[[], Result]) -> None:
        self._read_end, write_end = os.pipe()
        self._child = os.fork()
        if self._child == 0:
            result: Result | Exception
            try:
                result = compute()
            except Exception as error:  # noqa: BLE001  the parent raises it
                result = error
            with os.fdopen(write_end, "wb") as pipe:
                pickle.dump(result, pipe)
            os._exit(0)
        os.close(write_end)

    def result(self) -> Result:
        """Wait for the child and give what it computed.

        Raises:
            Exception: What the child raised.
        """
        with os.fdopen(self._read_end, "rb") as pipe:
            data = pipe.read()
        os.waitpid(self._child, 0)
        result: Result | Exception = pickle.loads(data)  # noqa: S301  our own child wrote it
        if isinstance(result, Exception):
            raise result
        return result
