"""Fuzz targets of clients: HTTP requests to the page, lines to the control port, conditions typed by an author.

Takes: the bytes of a client.  Gives: nothing; an answer that is no answer raises.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import httpx
import msgspec

from bridge.page.app import PageApp
from bridge.page.auth import AccessKey
from bridge.page.views.registry import VIEWS
from bridge.runtime.control import open_control_port
from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import VERB_MEANINGS, Reply
from rules.language.parser import ParseError, parse
from tests.bridge.page.page_builders import FlownDevice, page_pack
from tests.fuzz.target import BrokenPromiseError, FuzzTarget, RunInput
from tests.rules.packs.sample_packs import COMPLETE_PACK

KEY = AccessKey("a-key-for-the-fuzzer")
HERE = "http://127.0.0.1:47811"
HEADERS = {"Authorization": f"Bearer {KEY.text}", "Origin": HERE}
SERVER_ERROR = 500


async def _no_wait(seconds: float) -> None:
    """Wait no time after a wrong key."""


def build_page(folder: Path) -> RunInput:
    """Serve the page of one device in this process; an input is a path, a blank line, and a body."""
    flown = FlownDevice(page_pack(folder / "paged"))
    flown.frame(0.0)
    app = PageApp(DeviceRegistry([flown.device]), KEY, wait=_no_wait).asgi
    transport = httpx.ASGITransport(app)

    async def ask(path: str, body: bytes) -> int:
        async with httpx.AsyncClient(transport=transport, base_url=HERE, headers=HEADERS) as client:
            answer = await client.post(f"/{path}", content=body) if body else await client.get(f"/{path}")
        return answer.status_code

    def run(data: bytes) -> None:
        path, _, body = data.partition(b"\n\n")
        try:
            status = asyncio.run(ask(path.decode("latin-1").lstrip("/"), body))
        except httpx.InvalidURL:
            return  # the client itself refuses it
        if status >= SERVER_ERROR:
            raise BrokenPromiseError(f"status {status}")

    return run


def _page_seeds() -> list[bytes]:
    """Each view, and each verb as a body."""
    views = [f"device/{view.id}".encode() for view in VIEWS]
    bodies = [
        msgspec.json.encode({"verb": verb, "name": "push_approved", "reason": "words"})
        for verb in VERB_MEANINGS
    ]
    return [*views, *(b"device/do\n\n" + body for body in bodies)]


def build_control(folder: Path) -> RunInput:
    """Open a control port; an input is what one client sends before it closes its side."""
    flown = FlownDevice(page_pack(folder / "paged"))
    flown.frame(0.0)

    async def ask(data: bytes) -> bytes:
        async with open_control_port(flown.device.handle, 0) as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(data)
            writer.write_eof()
            line = await reader.read()
            writer.close()
        return line

    def run(data: bytes) -> None:
        answer = asyncio.run(ask(data))
        if answer and not msgspec.json.decode(answer, type=Reply).text.strip():
            raise BrokenPromiseError("an answer without words")

    return run


def read_condition(data: bytes) -> None:
    """Parse a condition; a refusal points into the text."""
    text = data.decode(errors="replace")
    try:
        parse(text)
    except ParseError as error:
        if not 0 <= error.offset <= len(text):
            raise BrokenPromiseError(f"offset {error.offset} in {len(text)} characters") from error


def _without_folder(run: RunInput) -> Callable[[Path], RunInput]:
    return lambda _: run


def _conditions() -> list[bytes]:
    """The conditions of a pack."""
    return [
        line.partition(": ")[2].strip().encode()
        for line in COMPLETE_PACK.splitlines()
        if " is " in line or ">=" in line
    ]


TARGETS = [
    FuzzTarget("page", build_page, _page_seeds),
    FuzzTarget("control_port", build_control, lambda: [_request(verb) for verb in VERB_MEANINGS]),
    FuzzTarget("condition", _without_folder(read_condition), _conditions),
]


def _request(verb: str) -> bytes:
    return msgspec.json.encode({"verb": verb, "name": "push_approved", "reason": "words"}) + b"\n"
