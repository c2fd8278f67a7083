"""What a page's own scripts ask for: signals that are looked for, and papers that are tried.

None of it changes anything, so none of it needs the key.

Takes: the rigs and the templates.  Gives: routes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence

import msgspec
from starlette.requests import Request as Asked
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from bridge.page.renderer import Renderer
from bridge.page.request_body import read_body
from bridge.page.text_filters import with_no_break_spaces
from bridge.page.views.signals.signal_index import SignalIndex
from bridge.page.views.trip_sheet.fields import FieldError, parse_fields
from bridge.page.views.trip_sheet.plausibility import PlausibilityCheck, PlausibilityResult
from bridge.runtime.control import MAX_REQUEST_BYTES
from bridge.runtime.device import Device
from rules.packs.trip_sheet import TRIP_PREFIX
from rules.packs.trip_values import DENSITY_SIGNAL


class TripCheckRequest(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """What was typed: texts by key."""

    values: dict[str, str] = msgspec.field(name="values")


class QueryRoutes:
    """What is offered of each rig."""

    def __init__(
        self, devices: Mapping[str, Device], device_of: Callable[[Asked], Device], renderer: Renderer
    ) -> None:
        """Prepare what does not change.

        Args:
            devices: all of them.
            device_of: which one is meant; raises where there is no such device.
            renderer: the templates.
        """
        self._device_of = device_of
        self._renderer = renderer
        self._signals = {name: SignalIndex(rig) for name, rig in devices.items()}
        self._checks = {name: PlausibilityCheck(rig.pack) for name, rig in devices.items()}
        self._check_slot = asyncio.Semaphore(1)

    @property
    def routes(self) -> list[BaseRoute]:
        """Where it is offered."""
        return [
            Route("/{device}/signals/list", self._signal_list),
            Route("/{device}/papers/try", self._check_trip_sheet, methods=["POST"]),
        ]

    async def _signal_list(self, http_request: Asked) -> Response:
        """Signals by what is looked for."""
        index, words = self._signals[self._device_of(http_request).id], http_request.query_params
        found = index.find(words.get("q", ""), words.get("quality", ""))
        return HTMLResponse(self._renderer.render("signals_list.html", {"found": found}))

    async def _check_trip_sheet(self, http_request: Asked) -> Response:
        """Papers as they were typed, tried; one trial at a time, beside the loop, so that reception goes on."""
        rig = self._device_of(http_request)
        body = await read_body(http_request)
        if body is None:
            return _json_error(413, f"too long: at most {MAX_REQUEST_BYTES} bytes")
        try:
            typed = msgspec.json.decode(body, type=TripCheckRequest).values
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            return _json_error(400, f"not understood: {error}")
        core = rig.session.judge
        held, density = core.trip_values, core.trip_values.get(DENSITY_SIGNAL)
        values, wrong = parse_fields(typed, rig.pack.signals, density if isinstance(density, float) else None)
        trial = self._checks[rig.id]
        async with self._check_slot:
            picture = trial.snapshot(core.context.state)
            judged = await asyncio.to_thread(trial.judge, {**held, **values}, picture)
        return JSONResponse(self._check_reply(judged, wrong, len(typed)))

    def _check_reply(
        self, results: Sequence[PlausibilityResult], errors: Mapping[str, FieldError], typed_count: int
    ) -> dict[str, object]:
        """The answer: the list as text, and what concerns single fields."""
        answers = {word: [one for one in results if one.verdict == word] for word in ("no", "unknown", "yes")}
        text = self._renderer.render(
            "papers_tried.html", {**answers, "changed": typed_count, "faults": len(errors)}
        )
        against: dict[str, list[str]] = {}
        for one in answers["no"]:
            for name in one.compared_signals:
                against.setdefault(name.removeprefix(TRIP_PREFIX), []).append(
                    with_no_break_spaces(f"{one.sentence}.")
                )
        return {
            "text": text,
            "faults": {
                key: {"what": fault.what, "expected": fault.expected, "hint": fault.hint}
                for key, fault in errors.items()
            },
            "against": against,
        }


def _json_error(status: int, text: str) -> Response:
    return JSONResponse({"text": text}, status)
