"""The console that every command prints to, and the colours of the levels.

Takes: an output.  Gives: a Rich console that prints text unchanged.
"""

from __future__ import annotations

import errno
import os
from typing import TextIO

from rich.console import Console

from rules.packs.model import Level

LEVEL_STYLES = {Level.WARNING: "bold red", Level.CAUTION: "yellow", Level.ADVISORY: "cyan"}


class _PlainConsole(Console):
    """A console that leaves the handling of a closed pipe to the caller."""

    def on_broken_pipe(self) -> None:
        """Raise, so that a watch ends in an orderly way."""
        raise BrokenPipeError(errno.EPIPE, os.strerror(errno.EPIPE))


def make_console(file: TextIO | None = None, *, stderr: bool = False) -> Console:
    """Make a console that prints text unchanged: no markup, no automatic colours.

    Args:
        file: where to print; standard output if None.
        stderr: print on standard error instead.
    """
    return _PlainConsole(file=file, stderr=stderr, markup=False, highlight=False, emoji=False)
