"""Serves the page for a command that watches, and prints its address in the terminal.

Takes: the values of the command's options.  Gives: a page that is served while a block runs.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from rich.console import Console

from bridge.page.address import DEFAULT_PORT, OFF
from bridge.page.app import PageApp
from bridge.page.auth import AccessKey, load_or_create_key, new_key
from bridge.page.serve import (
    LOOPBACK_HOSTS,
    page_server,
    parse_address,
    qr_code,
)
from bridge.runtime.registry import DeviceRegistry


@asynccontextmanager
async def serve_and_announce(
    registry: DeviceRegistry, page_address: str, key_file: Path | None, console: Console, store: str = ""
) -> AsyncIterator[str]:
    """Serve the page while the block runs, and print its address.

    Args:
        registry: the devices that are shown.
        page_address: the option `--page`.
        key_file: the option `--key-file`.
        console: prints the address, and its QR code if it is a terminal.
        store: the address of the store; '' for none.

    Yields:
        The page's address; '' for no page.

    Raises:
        InputFaults: the address or the key file is invalid.
        LinkError: the port cannot be used.
    """
    if page_address == OFF:
        yield ""
        return
    host, port = parse_address(page_address)
    key = load_or_create_key(key_file) if key_file is not None else new_key()
    async with page_server(PageApp(registry, key, store), host, port) as address:
        _print_address(console, address, key)
        if host in LOOPBACK_HOSTS:
            console.print(
                f"for a tablet in the same network: --page 0.0.0.0:{port or DEFAULT_PORT}", soft_wrap=True
            )
        yield address


def _print_address(console: Console, address: str, key: AccessKey) -> None:
    full_address = f"{address}#key={key.text}"
    if console.is_terminal and not console.is_dumb_terminal:
        console.print(qr_code(full_address), soft_wrap=True)
    console.print(f"page: {full_address}", soft_wrap=True)
    console.print(f"viewing needs no key; changes need the key {key.text}", soft_wrap=True)
