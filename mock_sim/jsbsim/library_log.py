"""Redirects the JSBSim library's messages to the standard error, each error once.

By default the library writes to the standard output, with one line for each datagram that has no receiver.

Takes: the library.  Gives: the logger.
"""

from __future__ import annotations

import sys
from typing import Any


def redirect_log(library: Any) -> Any:  # noqa: ANN401 - the library ships no types
    """Replace the library's logger by ours.

    Args:
        library: The module.

    Returns:
        The logger.  Set `enabled` to True after loading: gaps in a stock model's own file are not the user's errors.
    """
    worst = library.LogLevel.STDOUT

    class Logger(library.FGLogger):  # type: ignore[misc]
        """Collects a record's pieces and prints each error once."""

        def __init__(self) -> None:
            super().__init__()
            self.enabled = False
            self._error = False
            self._text: list[str] = []
            self._reported: set[str] = set()

        def set_level(self, level: Any) -> None:  # noqa: ANN401
            """Start a record."""
            self._error = library.LogLevel.ERROR <= level < worst
            self._text = []

        def file_location(self, filename: str, line: int) -> None:
            """Ignore the library's own file and line."""

        def message(self, message: str) -> None:
            """Add a piece of the record."""
            self._text.append(message)

        def format(self, format: Any) -> None:  # noqa: A002, ANN401 - the library's name
            """A colour; not used."""

        def flush(self) -> None:
            """End the record and print it if it is a new error."""
            text = " ".join("".join(self._text).split())
            if self.enabled and self._error and text and text not in self._reported:
                self._reported.add(text)
                print(f"JSBSim: {text}", file=sys.stderr, flush=True)  # noqa: T201 - a command

    logger = Logger()
    library.set_logger(logger)
    return logger
