"""Structured logs: one event, its facts, one line.

Takes: where to write and how.  Gives: structlog configured for the process.
"""

from __future__ import annotations

import logging
import sys
from pathlib import Path
from typing import TextIO

import structlog

from rules.faults import Fault, InputFaults, Place


def configure(path: Path | None, *, quiet: bool = False) -> None:
    """Send every event to a file as JSON lines, or to standard error as plain text.

    Args:
        path: a file to append to; None for standard error.
        quiet: without a file, say only warnings (a live screen would be torn by more).

    Raises:
        InputFaults: the file cannot be opened.
    """
    stream = _opened(path) if path else sys.stderr
    render: structlog.typing.Processor = (
        structlog.processors.JSONRenderer(ensure_ascii=False)
        if path
        else structlog.dev.ConsoleRenderer(colors=stream.isatty())
    )
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            render,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(
            logging.WARNING if quiet and not path else logging.INFO
        ),
        logger_factory=structlog.PrintLoggerFactory(stream),
        cache_logger_on_first_use=False,
    )


def _opened(path: Path) -> TextIO:
    """The file, to which each line goes at once."""
    try:
        return path.open("a", encoding="utf-8", buffering=1)
    except OSError as error:
        what = f"the log cannot be written ({error.strerror})"
        raise InputFaults([Fault(Place(str(path)), what, "a file in a folder that exists")]) from None
