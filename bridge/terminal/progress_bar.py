"""A progress bar for long work.

Takes: progress reports.  Gives: a bar on standard error in a terminal; it disappears at the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn

from bridge.common.progress import ProgressCallback
from bridge.terminal.console import make_console


@contextmanager
def progress_bar() -> Iterator[ProgressCallback]:
    """Show a bar for each step; nothing if standard error is not a terminal."""
    console = make_console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        tasks: dict[str, TaskID] = {}

        def report(what: str, more: int, total: int | None) -> None:
            if what not in tasks:
                tasks[what] = bar.add_task(what, total=total)
            bar.update(tasks[what], advance=more, total=total)

        yield report
