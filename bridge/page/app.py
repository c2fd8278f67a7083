"""Defines the HTTP routes of the page: views, event streams, and one route for changes.

Takes: the device registry and an access key.  Gives: a Starlette application.
"""

from __future__ import annotations

import asyncio
import ipaddress
import os
import secrets
import socket
from collections.abc import Awaitable, Callable, Sequence

import msgspec
import structlog
from sse_starlette import EventSourceResponse
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request as HttpRequest
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from bridge.page.auth import AccessKey
from bridge.page.panel_cache import PanelCache
from bridge.page.queries import QueryRoutes
from bridge.page.renderer import PAGE_DIR, Renderer
from bridge.page.request_body import read_body
from bridge.page.stream import EventFeed, StreamShutdown, event_stream
from bridge.page.views.history.view import HistoryPages
from bridge.page.views.registry import PANELS, VIEWS, find_view
from bridge.page.views.start.trace_feed import TraceFeed
from bridge.page.widgets.voice.speech_source import SpeechSource
from bridge.runtime.control import MAX_REQUEST_BYTES
from bridge.runtime.device import Device
from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request

SEND_TIMEOUT_S = 20.0
ASSET_SUFFIXES = (".css", ".js")
"""The only files of the folders of views and widgets that are served."""
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


WRONG_KEY_WAIT_S = 1.0
"""Seconds before a wrong key is refused."""


class PageApp:
    """The web application: a panel cache for each device, the access key, and the shutdown of the streams."""

    def __init__(
        self,
        registry: DeviceRegistry,
        key: AccessKey,
        store: str = "",
        wait: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        """Prepare the routes; a server is started elsewhere.

        Args:
            registry: the devices that are shown.
            key: the key that every change needs.
            store: the address of the store, for the pages of sessions and trends; '' for none.
            wait: waits a number of seconds after a wrong key.
        """
        self.devices, self._wait, self.wrong_keys = registry.devices, wait, 0
        self.key = key
        self.boot = secrets.token_hex(4)
        self.renderer = Renderer()
        self._history = HistoryPages(store, self.renderer.render_page)
        self.panel_caches = {name: self._panel_cache(device) for name, device in self.devices.items()}
        self._speech_sources = {
            name: SpeechSource(device, self.panel_caches[name].wake_all)
            for name, device in self.devices.items()
        }
        self.devices_cache = PanelCache(
            {
                _device_panel(name): self.renderer.panel_renderer("device", device)
                for name, device in self.devices.items()
            }
        )
        self.shutdown = StreamShutdown(panel_caches=self.all_caches)
        self.asgi = self._build_asgi()

    @property
    def all_caches(self) -> list[PanelCache]:
        """The cache of each device, then the cache of the page of all devices."""
        return [*self.panel_caches.values(), self.devices_cache]

    def _panel_cache(self, device: Device) -> PanelCache:
        return PanelCache({name: self.renderer.panel_renderer(name, device) for name in PANELS})

    def _build_asgi(self) -> Starlette:
        routes: list[BaseRoute] = [
            # The first match wins, so the folders of views and widgets come before the plain one.  "static" is
            # therefore a reserved word: no device may have it as its id.
            Mount("/static/views", _AssetFiles(directory=PAGE_DIR / "views")),
            Mount("/static/widgets", _AssetFiles(directory=PAGE_DIR / "widgets")),
            Mount("/static", StaticFiles(directory=PAGE_DIR / "static")),
            Route("/", self._devices),
            *self._history.routes,
            Route("/stream", self._devices_stream),  # an address of a device has a second slash
            Route("/{device}/", self._first_view),
            Route("/{device}/stream", self._stream),
            Route("/{device}/do", self._handle_request, methods=["POST"]),
            *QueryRoutes(self.devices, self._device, self.renderer).routes,
            Route("/{device}/{view}", self._view),
        ]
        middleware = [Middleware(_HostCheck), Middleware(_Headers)]
        return Starlette(
            routes=routes, middleware=middleware, exception_handlers={HTTPException: self._error_page}
        )

    async def _devices(self, _: HttpRequest) -> Response:
        if len(self.devices) == 1:
            return RedirectResponse(f"/{next(iter(self.devices))}/")
        cards = {name: self.devices_cache.render_now(name) for name in self.devices_cache.names}
        stored = bool(self._history.routes)
        return self.renderer.render_page(
            "views/devices/view.html", cards=cards, boot=self.boot, stored=stored
        )

    async def _devices_stream(self, http_request: HttpRequest) -> Response:
        return self._event_stream(self.devices_cache, http_request)

    async def _first_view(self, http_request: HttpRequest) -> Response:
        return RedirectResponse(f"/{self._device(http_request).id}/{VIEWS[0].id}")

    async def _view(self, http_request: HttpRequest) -> Response:
        device, view = self._device(http_request), find_view(http_request.path_params["view"])
        if view is None:
            raise HTTPException(404, "there is no such view")
        cache, query = self.panel_caches[device.id], http_request.query_params
        panels = {name: cache.render_now(name) for name in ("head", "live_region", *view.panels, *view.aside)}
        parts = {name: self.renderer.render_part(name, device, query) for name in view.parts}
        return self.renderer.render_page(
            "view.html",
            device=device,
            devices=self.devices,
            view=view,
            views=VIEWS,
            parts=parts,
            panels=panels,
            boot=self.boot,
            stored=bool(self._history.routes),
        )

    async def _stream(self, http_request: HttpRequest) -> Response:
        device = self._device(http_request)
        feeds = self._feeds(device, http_request)
        return self._event_stream(self.panel_caches[device.id], http_request, feeds)

    def _feeds(self, device: Device, http_request: HttpRequest) -> list[EventFeed]:
        """Return the feeds that the address asks for in addition to panels."""
        query, feeds = http_request.query_params, list[EventFeed]()
        if "voice" in query:
            feeds.append(self._speech_sources[device.id].open_feed())
        if "trace" in query:
            feeds.append(TraceFeed(device, self.renderer.render, query["trace"]))
        return feeds

    def _event_stream(
        self, cache: PanelCache, http_request: HttpRequest, feeds: Sequence[EventFeed] = ()
    ) -> Response:
        wanted = http_request.query_params.get("panels", "").split(",")
        panels = [name for name in cache.names if name in wanted]
        events = event_stream(cache, panels, self.boot, self.shutdown, feeds)
        return EventSourceResponse(events, ping=60, send_timeout=SEND_TIMEOUT_S)

    async def _handle_request(self, http_request: HttpRequest) -> Response:
        """Carry out a request for a change; the page shows the text of the reply."""
        device = self._device(http_request)
        scheme, _, given = http_request.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer" or not self.key.matches(given.strip()):
            if given:
                await self._slow_down(http_request)
            return _json_reply(403, "this needs the key that the watch shows in its terminal")
        try:
            body = await read_body(http_request)
        except TimeoutError:
            return _json_reply(408, "the request did not arrive completely")
        if body is None:
            return _json_reply(413, f"too long: at most {MAX_REQUEST_BYTES} bytes")
        try:
            request = msgspec.json.decode(body, type=Request)
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            return _json_reply(400, f"not understood: {error}")
        reply = device.handle(request)
        self.panel_caches[device.id].refresh()
        self.devices_cache.refresh()
        return JSONResponse({"accepted": reply.accepted, "text": reply.text}, 200 if reply.accepted else 409)

    async def _slow_down(self, http_request: HttpRequest) -> None:
        """Log a wrong key and wait, so that keys cannot be tried quickly."""
        self.wrong_keys += 1
        peer = http_request.client.host if http_request.client else ""
        structlog.get_logger("page").warning("wrong key", peer=peer, count=self.wrong_keys)
        await self._wait(WRONG_KEY_WAIT_S)

    def _device(self, http_request: HttpRequest) -> Device:
        device = self.devices.get(http_request.path_params["device"])
        if device is None:
            raise HTTPException(404, "there is no such device")
        return device

    async def _error_page(self, _: HttpRequest, error: Exception) -> Response:
        code, detail = (error.status_code, error.detail) if isinstance(error, HTTPException) else (500, "")
        return self.renderer.render_page("error.html", status=code, detail=detail, code=code)


def _device_panel(device: str) -> str:
    """Name the panel of a device on the page of all devices."""
    return f"device_{device}"


def _json_reply(status: int, text: str) -> Response:
    return JSONResponse({"accepted": False, "text": text}, status)


class _AssetFiles(StaticFiles):
    """Serves the styles and scripts of a folder that also contains templates and Python modules."""

    def lookup_path(self, path: str) -> tuple[str, os.stat_result | None]:
        """Find a file, unless its ending says that it is no asset."""
        return super().lookup_path(path) if path.endswith(ASSET_SUFFIXES) else ("", None)


class _Headers:
    """Middleware that adds the security headers to every response."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: object) -> None:
            if isinstance(message, dict) and message["type"] == "http.response.start":
                added = [(name.lower().encode(), value.encode()) for name, value in SECURITY_HEADERS.items()]
                message = {**message, "headers": [*message.get("headers", []), *added]}
            await send(message)  # type: ignore[arg-type]  # still the same message

        await self._app(scope, receive, with_headers)


class _HostCheck:
    """Middleware that accepts only this machine's names and addresses, and changes only from its own pages.

    It stops DNS rebinding: a foreign name that was made to resolve to this machine gets no answer.
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
