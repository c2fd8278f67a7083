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

from bridge.debrief.words import date, span
from bridge.page.show import Show
from bridge.store.opening import StoreError, connected
from bridge.trends.choice import Choice, offered
from bridge.trends.intervals import Share
from bridge.trends.listing import Listed, listed
from bridge.trends.reckon import Trends, trends
from bridge.trends.words import range_of, said, spread_said
from rules.faults import InputFaults

FILTERS = {
    "course": "Course", "pack": "Pack", "device": "Device", "seat": "Seat", "gate": "Gate",
    "error_class": "Threat and error", "level": "Level",
}  # fmt: skip
DAYS = {"since": "From", "until": "To"}
MOST = 40
MOST_SESSIONS = 200
WORDS = {"range_of": range_of, "said": said, "spread_said": spread_said, "date": date, "span": span}


class Trending:
    """Two pages over a store."""

    def __init__(self, url: str, show: Show) -> None:
        """Nothing is opened until somebody looks.

        Args:
            url: the store's; '' for none.
            show: the templates.
        """
        self._url, self._show = url, show

    @property
    def routes(self) -> list[BaseRoute]:
        """Where they are; nowhere without a store."""
        if not self._url:
            return []
        return [Route("/trends", self._trends), Route("/sessions", self._sessions)]

    async def _trends(self, asked: Asked) -> Response:
        """The trends of a choice; a choice that names nothing is answered with what there is."""
        words = {name: asked.query_params.get(name, "").strip() for name in (*FILTERS, *DAYS)}
        wrong, found, offers = "", Trends(0, 0), dict[str, list[str]]()
        status = 200
        try:
            found, offers = await asyncio.to_thread(_reckoned, self._url, Choice(**words))
        except InputFaults as faults:
            wrong, status = str(faults), 400
            offers = await asyncio.to_thread(_offered, self._url)
        except StoreError as error:
            wrong, status = f"the store cannot be reached now: {error}", 503
        return self._show.page(
            "trends.html",
            status=status,
            found=found,
            offers=offers,
            chosen=words,
            filters=FILTERS,
            days=DAYS,
            wrong=wrong,
            most=MOST,
            **_helpers(),
        )

    async def _sessions(self, _: Asked) -> Response:
        wrong, found = "", list[Listed]()
        try:
            found = await asyncio.to_thread(_listed, self._url)
        except (StoreError, InputFaults) as error:
            wrong = f"the store cannot be reached now: {error}"
        shown = found[::-1][:MOST_SESSIONS]
        return self._show.page(
            "sessions.html",
            status=503 if wrong else 200,
            sessions=shown,
            count=len(found),
            wrong=wrong,
            **_helpers(),
        )


def _helpers() -> Mapping[str, object]:
    return {**WORDS, "bar": bar}


def bar(share: Share) -> dict[str, float]:
    """Where the interval and the share stand in a bar that is 100 wide."""
    return {"low": 100 * share.low, "wide": max(100 * (share.high - share.low), 0.8), "at": 100 * share.share}


def _reckoned(url: str, choice: Choice) -> tuple[Trends, dict[str, list[str]]]:
    with connected(url) as connection:
        if connection is None:
            return Trends(0, 0, "Nothing is stored yet."), {}
        return trends(connection, choice), offered(connection)


def _offered(url: str) -> dict[str, list[str]]:
    with connected(url) as connection:
        return offered(connection) if connection is not None else {}


def _listed(url: str) -> list[Listed]:
    with connected(url) as connection:
        return listed(connection) if connection is not None else []
