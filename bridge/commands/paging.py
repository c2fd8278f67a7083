"""The page beside a command that watches: its options, its address in the terminal.

Takes: what the options say.  Gives: a page that is served while a block runs.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from bridge.floor import Floor
from bridge.page.app import Page
from bridge.page.keys import Key, kept_key, new_key
from bridge.page.serve import HERE, LOOPBACK, OFF, PORT, code, parse_address, served

At = Annotated[
    str, typer.Option("--page", metavar="HOST:PORT", help=f"Where the page is served; {OFF} for none.")
]
KeyFile = Annotated[
    Path | None,
    typer.Option("--key-file", help="Keep the key that changes need in this file, from one run to the next."),
]


@asynccontextmanager
async def paged(
    floor: Floor, at: str, key_file: Path | None, console: Console, store: str = ""
) -> AsyncIterator[str]:
    """Serve the page while the block runs, and say where.

    Args:
        floor: what is shown.
        at: the option `--page`.
        key_file: the option `--key-file`.
        store: the address of the store; '' for none.
        console: says the address; and shows it as a code, where it is a terminal.

    Yields:
        The page's address; '' where there is none.

    Raises:
        InputFaults: the address or the key file is not right.
        LinkError: the port cannot be had.
    """
    if at == OFF:
        yield ""
        return
    host, port = parse_address(at)
    key = kept_key(key_file) if key_file is not None else new_key()
    async with served(Page(floor, key, store), host, port) as address:
        _say(console, address, key)
        if host in LOOPBACK:
            console.print(f"for a tablet in the same network: --page 0.0.0.0:{port or PORT}", soft_wrap=True)
        yield address


def _say(console: Console, address: str, key: Key) -> None:
    whole = f"{address}#key={key.text}"
    if console.is_terminal and not console.is_dumb_terminal:
        console.print(code(whole), soft_wrap=True)
    console.print(f"page: {whole}", soft_wrap=True)
    console.print(f"looking needs no key; changing something needs {key.text}", soft_wrap=True)


__all__ = ["HERE", "At", "KeyFile", "paged"]
