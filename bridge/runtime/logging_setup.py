"""Structured logs: one event, its facts, one line.

Takes: where to write and how.  Gives: structlog configured while a block runs.
"""

from __future__ import annotations

import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

import structlog

from rules.faults import Fault, InputFaults, Place


@contextmanager
def logging_to(path: Path | None, *, quiet: bool = False) -> Iterator[None]:
    """While the block runs, send every event to a file as JSON lines, or to standard error as plain text.

    Args:
        path: a file to append to; None for standard error.
        quiet: without a file, say only errors: the screen or the lines tell the rest.

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
    """The file, to which each line goes at once."""
    try:
        return path.open("a", encoding="utf-8", buffering=1)
    except OSError as error:
        what = f"the log cannot be written ({error.strerror})"
        raise InputFaults([Fault(Place(str(path)), what, "a file in a folder that exists")]) from None
