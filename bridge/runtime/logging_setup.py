"""Configures structured logs: one line for each event and its facts.

Takes: a file or standard error.  Gives: structlog configured while a block runs.
"""

from __future__ import annotations

import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

import structlog

from bridge.common.private_file import make_private
from rules.faults import Fault, InputFaults, Place


@contextmanager
def logging_to(path: Path | None, *, quiet: bool = False) -> Iterator[None]:
    """Write every log event to a file as JSON lines, or to standard error as text, while the block runs.

    Args:
        path: a file to append to; None for standard error.
        quiet: without a file write only errors, since the screen shows the rest.

    Raises:
        InputFaults: the file cannot be opened.
    """
    if path is None:
        render = structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty())
        _configure(sys.stderr, render, logging.ERROR if quiet else logging.INFO)
        yield
        return
    with _open_log(path) as stream:
        _configure(stream, structlog.processors.JSONRenderer(ensure_ascii=False), logging.INFO)
        try:
            yield
        finally:
            structlog.reset_defaults()


def _configure(stream: TextIO, render: structlog.typing.Processor, level: int) -> None:
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            render,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=structlog.PrintLoggerFactory(stream),
        cache_logger_on_first_use=False,
    )


def _open_log(path: Path) -> TextIO:
    """Open the file; each line is written at once."""
    try:
        make_private(path)
        return path.open("a", encoding="utf-8", buffering=1)
    except OSError as error:
        what = f"the log cannot be written ({error.strerror})"
        raise InputFaults([Fault(Place(str(path)), what, "a file in a folder that exists")]) from None
