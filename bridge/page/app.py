"""The page's routes: views, their stream of changes, and the one door through which something is changed.

Takes: the floor and a key.  Gives: a Starlette application.
"""

from __future__ import annotations

import ipaddress
import secrets
import socket
from collections.abc import Sequence
from pathlib import Path

import msgspec
from sse_starlette import EventSourceResponse
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request as Asked
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from bridge.control import LONGEST, Request
from bridge.floor import Floor
from bridge.page.board import Board
from bridge.page.bodies import body_of
from bridge.page.keys import Key
from bridge.page.offers import Offers
from bridge.page.saying import Sayer
from bridge.page.show import Show
from bridge.page.stream import Extra, Stop, events
from bridge.page.tracing import Tracer
from bridge.page.trending import Trending
from bridge.page.views import PANELS, VIEWS, view_of
from bridge.rig import Rig

HERE = Path(__file__).parent
SEND_WITHIN_S = 20.0
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


class Page:
    """The application's parts: a board for each rig, the key, and what stops it."""

    def __init__(self, floor: Floor, key: Key, store: str = "") -> None:
        """Nothing is served yet.

        Args:
            floor: the devices that are shown.
            key: what every change needs.
            store: the address of the store, for the trends; '' for none.
        """
        self.rigs = floor.rigs
        self.key = key
        self.boot = secrets.token_hex(4)
        self.show = Show()
        self._trending = Trending(store, self.show)
        self.boards = {name: self._board(rig) for name, rig in self.rigs.items()}
        self._sayers = {name: Sayer(rig, self.boards[name].ring) for name, rig in self.rigs.items()}
        self.floor = Board({_card(name): self.show.maker("device", rig) for name, rig in self.rigs.items()})
        self.stop = Stop(boards=self.all_boards)
        self.app = self._app()

    @property
    def all_boards(self) -> list[Board]:
        """That of each device, and that of the page of all devices."""
        return [*self.boards.values(), self.floor]

    def _board(self, rig: Rig) -> Board:
        return Board({name: self.show.maker(name, rig) for name in PANELS})

    def _app(self) -> Starlette:
        routes: list[BaseRoute] = [
            Mount("/static", StaticFiles(directory=HERE / "static")),  # so no device may be called static
            Route("/", self._devices),
            *self._trending.routes,
            Route("/stream", self._floor_stream),  # a device's addresses have a second slash
            Route("/{device}/", self._first),
            Route("/{device}/stream", self._stream),
            Route("/{device}/do", self._do, methods=["POST"]),
            *Offers(self.rigs, self._rig, self.show).routes,
            Route("/{device}/{view}", self._view),
        ]
        middleware = [Middleware(_OwnHost), Middleware(_Headers)]
        return Starlette(
            routes=routes, middleware=middleware, exception_handlers={HTTPException: self._wrong}
        )

    async def _devices(self, _: Asked) -> Response:
        if len(self.rigs) == 1:
            return RedirectResponse(f"/{next(iter(self.rigs))}/")
        cards = {name: self.floor.panel(name)[0] for name in self.floor.names}
        stored = bool(self._trending.routes)
        return self.show.page("devices.html", cards=cards, boot=self.boot, stored=stored)

    async def _floor_stream(self, asked: Asked) -> Response:
        return self._told(self.floor, asked)

    async def _first(self, asked: Asked) -> Response:
        return RedirectResponse(f"/{self._rig(asked).id}/{VIEWS[0].id}")

    async def _view(self, asked: Asked) -> Response:
        rig, view = self._rig(asked), view_of(asked.path_params["view"])
        if view is None:
            raise HTTPException(404, "there is no such view")
        board = self.boards[rig.id]
        panels = {name: board.panel(name)[0] for name in ("head", "aloud", *view.panels, *view.beside)}
        parts = {name: self.show.part(name, rig, asked.query_params) for name in view.parts}
        return self.show.page(
            "view.html",
            rig=rig,
            rigs=self.rigs,
            view=view,
            views=VIEWS,
            parts=parts,
            panels=panels,
            boot=self.boot,
            stored=bool(self._trending.routes),
        )

    async def _stream(self, asked: Asked) -> Response:
        rig = self._rig(asked)
        return self._told(self.boards[rig.id], asked, self._extras(rig, asked))

    def _extras(self, rig: Rig, asked: Asked) -> list[Extra]:
        """What a client gets beside panels."""
        words, extras = asked.query_params, list[Extra]()
        if "voice" in words:
            extras.append(self._sayers[rig.id].earful())
        if "trace" in words:
            extras.append(Tracer(rig, self.show.piece, words["trace"]))
        return extras

    def _told(self, board: Board, asked: Asked, extras: Sequence[Extra] = ()) -> Response:
        wanted = asked.query_params.get("panels", "").split(",")
        told = events(board, [name for name in board.names if name in wanted], self.boot, self.stop, extras)
        return EventSourceResponse(told, ping=60, send_timeout=SEND_WITHIN_S)

    async def _do(self, asked: Asked) -> Response:
        """Do what is asked; the sentence of the reply is shown to the person who asked."""
        rig = self._rig(asked)
        scheme, _, given = asked.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer" or not self.key.opens(given.strip()):
            return _said(403, "this needs the key that the watch shows in its terminal")
        body = await body_of(asked)
        if body is None:
            return _said(413, f"too long: at most {LONGEST} bytes")
        try:
            request = msgspec.json.decode(body, type=Request)
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            return _said(400, f"not understood: {error}")
        reply = rig.answer(request)
        self.boards[rig.id].refresh()
        self.floor.refresh()
        return JSONResponse({"done": reply.done, "text": reply.text}, 200 if reply.done else 409)

    def _rig(self, asked: Asked) -> Rig:
        rig = self.rigs.get(asked.path_params["device"])
        if rig is None:
            raise HTTPException(404, "there is no such device")
        return rig

    async def _wrong(self, _: Asked, error: Exception) -> Response:
        code, what = (error.status_code, error.detail) if isinstance(error, HTTPException) else (500, "")
        return self.show.page("wrong.html", status=code, what=what, code=code, boot=self.boot)


def _card(device: str) -> str:
    """The panel of a device on the page of all devices."""
    return f"device_{device}"


def _said(status: int, text: str) -> Response:
    return JSONResponse({"done": False, "text": text}, status)


class _Headers:
    """Puts our headers on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: object) -> None:
            if isinstance(message, dict) and message["type"] == "http.response.start":
                ours = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
                message = {**message, "headers": [*message.get("headers", []), *ours]}
            await send(message)  # type: ignore[arg-type]  # a message is what it was

        await self._app(scope, receive, with_headers)


class _OwnHost:
    """Answers only to an address, localhost or this machine's own name, and changes only from its own pages.

    A web page elsewhere that was made to resolve to this machine is turned away so.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._names = {"localhost", socket.gethostname().lower()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {name: value.decode("latin-1") for name, value in scope["headers"]}
        host, origin = headers.get(b"host", ""), headers.get(b"origin", "")
        if not self._ours(host) or (origin and origin.partition("://")[2] != host):
            await _said(421, "this page is not served under that name")(scope, receive, send)
            return
        await self._app(scope, receive, send)

    def _ours(self, host: str) -> bool:
        name = host.rpartition(":")[0] if host.rpartition(":")[2].isdigit() else host
        try:
            ipaddress.ip_address(name.strip("[]"))
        except ValueError:
            return name.lower().removesuffix(".local") in self._names
        return True
