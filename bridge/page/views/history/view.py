"""The pages of many sessions: trends, and the list of what is stored.

They are read from the store in a thread, so that reception never waits for a database.  Who looks needs no key, so no person is
named here, nor can one be asked for: that is for the command line.

Takes: the address of a store.  Gives: routes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping

from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from bridge.debrief.wording import duration_text, short_date
from bridge.page.renderer import Renderer
from bridge.store.database import StoreError, read_existing_store
from bridge.trends.calculations import Trends, calculate_trends
from bridge.trends.filters import TrendFilter, available_values
from bridge.trends.intervals import Share
from bridge.trends.session_list import SessionRow, list_sessions
from bridge.trends.trend_text import interval_text, share_text, spread_text
from rules.faults import InputFaults

FILTER_TITLES = {
    "course": "Course", "pack": "Pack", "device": "Device", "seat": "Seat", "gate": "Gate",
    "error_class": "Threat and error", "level": "Level",
}  # fmt: skip
DATE_TITLES = {"since": "From", "until": "To"}
MAX_ITEMS = 40
MAX_SESSIONS = 200
TEXT_HELPERS = {
    "range_of": interval_text,
    "said": share_text,
    "spread_said": spread_text,
    "date": short_date,
    "span": duration_text,
}


class HistoryPages:
    """Two pages over a store."""

    def __init__(self, url: str, render_page: Renderer) -> None:
        """Nothing is opened until somebody looks.

        Args:
            url: the store's; '' for none.
            render_page: the templates.
        """
        self._url, self._render_page = url, render_page

    @property
    def routes(self) -> list[BaseRoute]:
        """Where they are; nowhere without a store."""
        if not self._url:
            return []
        return [Route("/trends", self._trends), Route("/sessions", self._sessions)]

    async def _trends(self, http_request: Asked) -> Response:
        """The trends of a choice; a choice that names nothing is answered with what there is."""
        words = {
            name: http_request.query_params.get(name, "").strip() for name in (*FILTER_TITLES, *DATE_TITLES)
        }
        wrong, found, offers = "", Trends(0, 0), dict[str, list[str]]()
        status = 200
        try:
            found, offers = await asyncio.to_thread(_load_trends, self._url, TrendFilter(**words))
        except InputFaults as faults:
            wrong, status = str(faults), 400
            offers = await asyncio.to_thread(_load_choices, self._url)
        except StoreError as error:
            wrong, status = f"the store cannot be reached now: {error}", 503
        return self._render_page.render_page(
            "trends.html",
            status=status,
            found=found,
            offers=offers,
            chosen=words,
            filters=FILTER_TITLES,
            days=DATE_TITLES,
            wrong=wrong,
            most=MAX_ITEMS,
            **_text_helpers(),
        )

    async def _sessions(self, _: Asked) -> Response:
        wrong, found = "", list[SessionRow]()
        try:
            found = await asyncio.to_thread(_load_sessions, self._url)
        except (StoreError, InputFaults) as error:
            wrong = f"the store cannot be reached now: {error}"
        shown = found[::-1][:MAX_SESSIONS]
        return self._render_page.render_page(
            "sessions.html",
            status=503 if wrong else 200,
            sessions=shown,
            count=len(found),
            wrong=wrong,
            **_text_helpers(),
        )


def _text_helpers() -> Mapping[str, object]:
    return {**TEXT_HELPERS, "bar": interval_bar}


def interval_bar(share: Share) -> dict[str, float]:
    """Where the interval and the share stand in a bar that is 100 wide."""
    return {"low": 100 * share.low, "wide": max(100 * (share.high - share.low), 0.8), "at": 100 * share.value}


def _load_trends(url: str, choice: TrendFilter) -> tuple[Trends, dict[str, list[str]]]:
    with read_existing_store(url) as connection:
        if connection is None:
            return Trends(0, 0, "Nothing is stored yet."), {}
        return calculate_trends(connection, choice), available_values(connection)


def _load_choices(url: str) -> dict[str, list[str]]:
    with read_existing_store(url) as connection:
        return available_values(connection) if connection is not None else {}


def _load_sessions(url: str) -> list[SessionRow]:
    with read_existing_store(url) as connection:
        return list_sessions(connection) if connection is not None else []
