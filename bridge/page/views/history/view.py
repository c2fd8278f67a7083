"""Shows the stored sessions, and trends over many of them.

The store is read in a thread, so that reception never waits for a database.  These pages need no key, so they name no person and
cannot be filtered by person; the command line can.

Takes: the address of a store.  Gives: routes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping

from starlette.requests import Request as HttpRequest
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from bridge.common.time_text import duration_text, short_date
from bridge.store.database import StoreError, read_existing_store
from bridge.trends.calculations import Trends, calculate_trends
from bridge.trends.filters import TrendFilter, available_values
from bridge.trends.intervals import Share
from bridge.trends.session_list import SessionRow, list_sessions
from bridge.trends.trend_text import (
    found_text,
    interval_text,
    missed_text,
    no_items_text,
    rare_text,
    session_found_text,
    share_text,
    spread_text,
)
from rules.faults import InputFaults

FILTER_TITLES = {
    "course": "Course", "pack": "Pack", "device": "Device", "seat": "Seat", "gate": "Gate",
    "error_class": "Threat and error", "level": "Level",
}  # fmt: skip
DATE_TITLES = {"since": "From", "until": "To"}
MAX_ITEMS = 40
MAX_SESSIONS = 200
TEXT_HELPERS = {
    "found_text": found_text,
    "interval_text": interval_text,
    "missed_text": missed_text,
    "no_items_text": no_items_text,
    "rare_text": rare_text,
    "session_found_text": session_found_text,
    "share_text": share_text,
    "spread_text": spread_text,
    "short_date": short_date,
    "duration_text": duration_text,
}


class HistoryPages:
    """The pages `/trends` and `/sessions` of a store."""

    def __init__(self, url: str, render_page: Callable[..., Response]) -> None:
        """Open nothing yet: the store is opened for each request.

        Args:
            url: the address of the store; '' for none.
            render_page: renders a template as a response.
        """
        self._url, self._render_page = url, render_page

    @property
    def routes(self) -> list[BaseRoute]:
        """The routes of both pages; none without a store."""
        if not self._url:
            return []
        return [Route("/trends", self._trends), Route("/sessions", self._sessions)]

    async def _trends(self, http_request: HttpRequest) -> Response:
        """Answer with the trends for the chosen filters; an unknown value is answered with an error and the known ones."""
        query = http_request.query_params
        chosen = {name: query.get(name, "").strip() for name in (*FILTER_TITLES, *DATE_TITLES)}
        text, trends, choices = "", Trends(0, None, None), dict[str, list[str]]()
        status = 200
        try:
            trends, choices = await asyncio.to_thread(_load_trends, self._url, TrendFilter(**chosen))
        except InputFaults as faults:
            text, status = str(faults), 400
            choices = await asyncio.to_thread(_load_choices, self._url)
        except StoreError as error:
            text, status = f"the store cannot be reached now: {error}", 503
        return self._render_page(
            "views/history/trends.html",
            status=status,
            trends=trends,
            choices=choices,
            chosen=chosen,
            filters=FILTER_TITLES,
            dates=DATE_TITLES,
            error=text,
            max_items=MAX_ITEMS,
            **_text_helpers(),
        )

    async def _sessions(self, _: HttpRequest) -> Response:
        text, sessions = "", list[SessionRow]()
        try:
            sessions = await asyncio.to_thread(_load_sessions, self._url)
        except (StoreError, InputFaults) as error:
            text = f"the store cannot be reached now: {error}"
        return self._render_page(
            "views/history/sessions.html",
            status=503 if text else 200,
            sessions=sessions[::-1][:MAX_SESSIONS],
            count=len(sessions),
            error=text,
            **_text_helpers(),
        )


def _text_helpers() -> Mapping[str, object]:
    return {**TEXT_HELPERS, "bar": interval_bar}


def interval_bar(share: Share) -> dict[str, float]:
    """Return the positions of the interval and of the share in a bar of width 100."""
    return {
        "low": 100 * share.low,
        "width": max(100 * (share.high - share.low), 0.8),
        "value": 100 * share.value,
    }


def _load_trends(url: str, choice: TrendFilter) -> tuple[Trends, dict[str, list[str]]]:
    with read_existing_store(url) as connection:
        if connection is None:
            return Trends(0, None, None, "No sessions are stored yet."), {}
        return calculate_trends(connection, choice), available_values(connection)


def _load_choices(url: str) -> dict[str, list[str]]:
    with read_existing_store(url) as connection:
        return available_values(connection) if connection is not None else {}


def _load_sessions(url: str) -> list[SessionRow]:
    with read_existing_store(url) as connection:
        return list_sessions(connection) if connection is not None else []
