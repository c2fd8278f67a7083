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

from bridge.page.auth import AccessKey
from bridge.page.panel_cache import PanelCache
from bridge.page.queries import QueryRoutes
from bridge.page.renderer import Renderer
from bridge.page.request_body import read_body
from bridge.page.stream import EventFeed, StreamShutdown, event_stream
from bridge.page.views.history.view import HistoryPages
from bridge.page.views.registry import PANELS, VIEWS, find_view
from bridge.page.views.start.trace_feed import TraceFeed
from bridge.page.widgets.voice.speech_source import SpeechSource
from bridge.runtime.control import MAX_REQUEST_BYTES, Request
from bridge.runtime.device import Device
from bridge.runtime.registry import DeviceRegistry

PAGE_DIR = Path(__file__).parent
SEND_TIMEOUT_S = 20.0
CONTENT_SECURITY_POLICY = "; ".join(
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
SECURITY_HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


class PageApp:
    """The application's parts: a board for each rig, the key, and what stops it."""

    def __init__(self, registry: DeviceRegistry, key: AccessKey, store: str = "") -> None:
        """Nothing is served yet.

        Args:
            registry: the devices that are shown.
            key: what every change needs.
            store: the address of the store, for the trends; '' for none.
        """
        self.devices = registry.devices
        self.key = key
        self.boot = secrets.token_hex(4)
        self.renderer = Renderer()
        self._history = HistoryPages(store, self.renderer)
        self.panel_caches = {name: self._panel_cache(rig) for name, rig in self.devices.items()}
        self._speech_sources = {
            name: SpeechSource(rig, self.panel_caches[name].wake_all) for name, rig in self.devices.items()
        }
        self.devices_cache = PanelCache(
            {
                _device_panel(name): self.renderer.panel_renderer("device", rig)
                for name, rig in self.devices.items()
            }
        )
        self.shutdown = StreamShutdown(panel_caches=self.all_caches)
        self.asgi = self._build_asgi()

    @property
    def all_caches(self) -> list[PanelCache]:
        """That of each device, and that of the page of all devices."""
        return [*self.panel_caches.values(), self.devices_cache]

    def _panel_cache(self, device: Device) -> PanelCache:
        return PanelCache({name: self.renderer.panel_renderer(name, device) for name in PANELS})

    def _build_asgi(self) -> Starlette:
        routes: list[BaseRoute] = [
            Mount("/static", StaticFiles(directory=PAGE_DIR / "static")),  # so no device may be called static
            Route("/", self._devices),
            *self._history.routes,
            Route("/stream", self._devices_stream),  # a device's addresses have a second slash
            Route("/{device}/", self._first),
            Route("/{device}/stream", self._stream),
            Route("/{device}/do", self._handle_request, methods=["POST"]),
            *QueryRoutes(self.devices, self._device, self.renderer).routes,
            Route("/{device}/{view}", self._view),
        ]
        middleware = [Middleware(_HostCheck), Middleware(_Headers)]
        return Starlette(
            routes=routes, middleware=middleware, exception_handlers={HTTPException: self._error_page}
        )

    async def _devices(self, _: Asked) -> Response:
        if len(self.devices) == 1:
            return RedirectResponse(f"/{next(iter(self.devices))}/")
        cards = {name: self.devices_cache.panel(name)[0] for name in self.devices_cache.names}
        stored = bool(self._history.routes)
        return self.renderer.render_page("devices.html", cards=cards, boot=self.boot, stored=stored)

    async def _devices_stream(self, http_request: Asked) -> Response:
        return self._event_stream(self.devices_cache, http_request)

    async def _first(self, http_request: Asked) -> Response:
        return RedirectResponse(f"/{self._device(http_request).id}/{VIEWS[0].id}")

    async def _view(self, http_request: Asked) -> Response:
        rig, view = self._device(http_request), find_view(http_request.path_params["view"])
        if view is None:
            raise HTTPException(404, "there is no such view")
        board = self.panel_caches[rig.id]
        panels = {name: board.panel(name)[0] for name in ("head", "aloud", *view.panels, *view.aside)}
        parts = {name: self.renderer.render_part(name, rig, http_request.query_params) for name in view.parts}
        return self.renderer.render_page(
            "view.html",
            rig=rig,
            rigs=self.devices,
            view=view,
            views=VIEWS,
            parts=parts,
            panels=panels,
            boot=self.boot,
            stored=bool(self._history.routes),
        )

    async def _stream(self, http_request: Asked) -> Response:
        rig = self._device(http_request)
        return self._event_stream(self.panel_caches[rig.id], http_request, self._feeds(rig, http_request))

    def _feeds(self, device: Device, http_request: Asked) -> list[EventFeed]:
        """What a client gets beside panels."""
        words, extras = http_request.query_params, list[EventFeed]()
        if "voice" in words:
            extras.append(self._speech_sources[device.id].open_feed())
        if "trace" in words:
            extras.append(TraceFeed(device, self.renderer.render, words["trace"]))
        return extras

    def _event_stream(
        self, cache: PanelCache, http_request: Asked, feeds: Sequence[EventFeed] = ()
    ) -> Response:
        wanted = http_request.query_params.get("panels", "").split(",")
        told = event_stream(
            cache, [name for name in cache.names if name in wanted], self.boot, self.shutdown, feeds
        )
        return EventSourceResponse(told, ping=60, send_timeout=SEND_TIMEOUT_S)

    async def _handle_request(self, http_request: Asked) -> Response:
        """Do what is asked; the sentence of the reply is shown to the person who asked."""
        rig = self._device(http_request)
        scheme, _, given = http_request.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer" or not self.key.matches(given.strip()):
            return _json_reply(403, "this needs the key that the watch shows in its terminal")
        body = await read_body(http_request)
        if body is None:
            return _json_reply(413, f"too long: at most {MAX_REQUEST_BYTES} bytes")
        try:
            request = msgspec.json.decode(body, type=Request)
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            return _json_reply(400, f"not understood: {error}")
        reply = rig.handle(request)
        self.panel_caches[rig.id].refresh()
        self.devices_cache.refresh()
        return JSONResponse({"accepted": reply.accepted, "text": reply.text}, 200 if reply.accepted else 409)

    def _device(self, http_request: Asked) -> Device:
        rig = self.devices.get(http_request.path_params["device"])
        if rig is None:
            raise HTTPException(404, "there is no such device")
        return rig

    async def _error_page(self, _: Asked, error: Exception) -> Response:
        code, what = (error.status_code, error.detail) if isinstance(error, HTTPException) else (500, "")
        return self.renderer.render_page("wrong.html", status=code, what=what, code=code, boot=self.boot)


def _device_panel(device: str) -> str:
    """The panel of a device on the page of all devices."""
    return f"device_{device}"


def _json_reply(status: int, text: str) -> Response:
    return JSONResponse({"accepted": False, "text": text}, status)


class _Headers:
    """Puts our headers on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: object) -> None:
            if isinstance(message, dict) and message["type"] == "http.response.start":
                ours = [(name.lower().encode(), value.encode()) for name, value in SECURITY_HEADERS.items()]
                message = {**message, "headers": [*message.get("headers", []), *ours]}
            await send(message)  # type: ignore[arg-type]  # a message is what it was

        await self._app(scope, receive, with_headers)


class _HostCheck:
    """Answers only to an address, localhost or this machine's own name, and changes only from its own pages.

    A web page elsewhere that was made to resolve to this machine is turned away so.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._own_names = {"localhost", socket.gethostname().lower()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {name: value.decode("latin-1") for name, value in scope["headers"]}
        host, origin = headers.get(b"host", ""), headers.get(b"origin", "")
        if not self._is_own(host) or (origin and origin.partition("://")[2] != host):
            await _json_reply(421, "this page is not served under that name")(scope, receive, send)
            return
        await self._app(scope, receive, send)

    def _is_own(self, host: str) -> bool:
        name = host.rpartition(":")[0] if host.rpartition(":")[2].isdigit() else host
        try:
            ipaddress.ip_address(name.strip("[]"))
        except ValueError:
            return name.lower().removesuffix(".local") in self._own_names
        return True
