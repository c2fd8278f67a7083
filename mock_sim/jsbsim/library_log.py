"""What the library has to say, kept off the output that others read.

By itself it writes to the standard output, and one line for each datagram that nobody takes.

Takes: the library.  Gives: a logger that says each error once, on the standard error.
"""

from __future__ import annotations

import sys
from typing import Any


def redirect_log(library: Any) -> Any:  # noqa: ANN401 - the library ships no types
    """Make the library speak through us from now on.

    Args:
        library: The module.

    Returns:
        The logger; with `enabled` false it says nothing, which is meant for loading: what a stock model's own file
        lacks is not for the user to mend.
    """
    worst = library.LogLevel.STDOUT

    class Logger(library.FGLogger):  # type: ignore[misc]
        """Collects a record's pieces; says each error once."""

        def __init__(self) -> None:
            super().__init__()
            self.enabled = False
            self._error = False
            self._text: list[str] = []
            self._reported: set[str] = set()

        def set_level(self, level: Any) -> None:  # noqa: ANN401
            """A record begins."""
            self._error = library.LogLevel.ERROR <= level < worst
            self._text = []

        def file_location(self, filename: str, line: int) -> None:
            """Where in a file of the library's; of no use to the reader."""

        def message(self, message: str) -> None:
            """A piece of the record."""
            self._text.append(message)

        def format(self, format: Any) -> None:  # noqa: A002, ANN401 - the library's name
            """A colour; not used."""

        def flush(self) -> None:
            """The record ends."""
            text = " ".join("".join(self._text).split())
            if self.enabled and self._error and text and text not in self._reported:
                self._reported.add(text)
                print(f"JSBSim: {text}", file=sys.stderr, flush=True)  # noqa: T201 - a command

    logger = Logger()
    library.set_logger(logger)
    return logger
