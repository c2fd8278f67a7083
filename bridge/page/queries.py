"""Answers the queries of the page's scripts: the search for signals, and the check of a trip sheet.

Queries change nothing, so they need no key.

Takes: the devices and the templates.  Gives: routes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence

import msgspec
from starlette.requests import Request as HttpRequest
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from bridge.page.renderer import Renderer
from bridge.page.request_body import read_body
from bridge.page.text_filters import with_no_break_spaces
from bridge.page.views.signals.signal_index import SignalIndex
from bridge.page.views.trip_sheet.fields import FieldError, parse_fields
from bridge.page.views.trip_sheet.plausibility import (
    CHECK_VERDICTS,
    PlausibilityCheck,
    PlausibilityResult,
)
from bridge.runtime.control import MAX_REQUEST_BYTES
from bridge.runtime.device import Device
from rules.packs.trip_values import DENSITY_SIGNAL
from rules.signals.model import TRIP_PREFIX


class TripCheckRequest(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """The changed fields of the form: texts by key."""

    values: dict[str, str] = msgspec.field(name="values")


class QueryRoutes:
    """The query routes of all devices."""

    def __init__(
        self, devices: Mapping[str, Device], device_of: Callable[[HttpRequest], Device], renderer: Renderer
    ) -> None:
        """Build the index and the check of each device.

        Args:
            devices: all devices.
            device_of: gives the device of a request, and raises if there is none.
            renderer: renders the answers.
        """
        self._device_of = device_of
        self._renderer = renderer
        self._signals = {name: SignalIndex(device) for name, device in devices.items()}
        self._checks = {name: PlausibilityCheck(device.pack) for name, device in devices.items()}
        self._check_slot = asyncio.Semaphore(1)

    @property
    def routes(self) -> list[BaseRoute]:
        """The routes of both queries."""
        return [
            Route("/{device}/signals/list", self._signal_list),
            Route("/{device}/trip_sheet/check", self._check_trip_sheet, methods=["POST"]),
        ]

    async def _signal_list(self, http_request: HttpRequest) -> Response:
        """Answer a search for signals."""
        index, query = self._signals[self._device_of(http_request).id], http_request.query_params
        found = index.find(query.get("q", ""), query.get("quality", ""))
        return HTMLResponse(self._renderer.render("views/signals/results.html", {"found": found}))

    async def _check_trip_sheet(self, http_request: HttpRequest) -> Response:
        """Check the trip sheet with the changed fields.

        One check at a time, in a thread, so that the event loop keeps receiving.
        """
        device = self._device_of(http_request)
        body = await read_body(http_request)
        if body is None:
            return _json_error(413, f"too long: at most {MAX_REQUEST_BYTES} bytes")
        try:
            texts = msgspec.json.decode(body, type=TripCheckRequest).values
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            return _json_error(400, f"not understood: {error}")
        session, check = device.session, self._checks[device.id]
        current, density = session.trip_values, session.trip_values.get(DENSITY_SIGNAL)
        values, errors = parse_fields(
            texts, device.pack.signals, density if isinstance(density, float) else None
        )
        async with self._check_slot:
            samples = check.samples_of(session.current_snapshot())
            results = await asyncio.to_thread(check.judge, {**current, **values}, samples)
        return JSONResponse(self._check_reply(results, errors, len(texts)))

    def _check_reply(
        self, results: Sequence[PlausibilityResult], errors: Mapping[str, FieldError], changed_count: int
    ) -> dict[str, object]:
        """Build the reply: the list as HTML, and the messages of single fields by key."""
        groups = {
            verdict: [result for result in results if result.verdict == verdict] for verdict in CHECK_VERDICTS
        }
        text = self._renderer.render(
            "views/trip_sheet/check_result.html",
            {**groups, "changed_count": changed_count, "error_count": len(errors)},
        )
        conflicts: dict[str, list[str]] = {}
        for result in groups["failed"]:
            for name in result.compared_signals:
                messages = conflicts.setdefault(name.removeprefix(TRIP_PREFIX), [])
                messages.append(with_no_break_spaces(f"{result.sentence}."))
        return {
            "text": text,
            "errors": {
                key: {"what": error.what, "expected": error.expected, "hint": error.hint}
                for key, error in errors.items()
            },
            "conflicts": conflicts,
        }


def _json_error(status: int, text: str) -> Response:
    return JSONResponse({"text": text}, status)
