"""A bar for work that takes long.

Takes: how far it is.  Gives: a bar on a terminal's standard error, which goes when all is done.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn

from bridge.common.progress import ProgressCallback
from bridge.terminal.live_view import make_console


@contextmanager
def progress_bar() -> Iterator[ProgressCallback]:
    """A bar for each thing that is done; nothing where standard error is no screen."""
    console = make_console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        tasks: dict[str, TaskID] = {}

        def hear(what: str, more: int, total: int | None) -> None:
            if what not in tasks:
                tasks[what] = bar.add_task(what, total=total)
            bar.update(tasks[what], advance=more, total=total)

        yield hear
