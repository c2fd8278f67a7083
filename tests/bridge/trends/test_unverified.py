"""Tests that what could not be verified is counted apart, and that numbers that are not shown are never 0."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import Engine, insert

from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from bridge.trends.calculations import GateTrend, Trends, calculate_trends
from bridge.trends.filters import TrendFilter
from bridge.trends.intervals import share_of
from bridge.trends.session_list import list_sessions
from bridge.trends.trend_text import (
    found_text,
    interval_text,
    missed_text,
    no_items_text,
    session_found_text,
    share_text,
)
from tests.bridge.trends.sample_store import add_doubt, add_gap, fill, sample_rows

ROWS = sample_rows(80)
DOORS = "flow.x.doors"


@pytest.fixture
def full(store: Engine) -> Engine:
    """A store with eighty sessions without doubts."""
    fill(store, ROWS)
    return store


def _trends(store: Engine, **filters: str) -> Trends:
    with read_transaction(store) as connection:
        return calculate_trends(connection, TrendFilter(**filters))


def _sessions(of: Callable[[dict[str, Any]], bool]) -> list[str]:
    return [session["id"] for session in ROWS.sessions if session["pack"] == "twin_jet" and of(session)]


def _wrong(session: dict[str, Any]) -> bool:
    return any(f["session"] == session["id"] and f["item"] == DOORS for f in ROWS.findings)


def test_a_session_in_which_it_could_not_be_verified_is_neither_wrong_nor_met(full: Engine) -> None:
    """Such sessions are in no share; one with an error, and one that could be judged in time, count as ever."""
    trends_before = _trends(full, pack="twin_jet")
    before = {one.item: one for one in trends_before.missed}[DOORS]
    right, wrong = _sessions(lambda session: not _wrong(session)), _sessions(_wrong)
    add_doubt(full, right[0], DOORS)
    add_doubt(full, right[0], DOORS)
    add_doubt(full, right[1], DOORS, closed_s=120.0, carried=True, corrected=True)
    add_doubt(full, right[2], DOORS, closed_s=120.0, corrected=True)
    add_doubt(full, wrong[0], DOORS)
    trends = _trends(full, pack="twin_jet")
    after = {one.item: one for one in trends.missed}[DOORS]
    assert (after.share.count, after.share.of) == (before.share.count, before.share.of - 2)
    assert (before.not_verified, after.not_verified) == (0, 2)
    assert missed_text(after) == f"{before.share.count} of {before.share.of - 2}, 2 more not verifiable"
    (doubt,) = trends.unverified
    assert (doubt.item, doubt.share.count, doubt.share.of) == (DOORS, 2, before.share.of)
    assert (trends.doubts, trends.doubt_sessions) == (5, 4)
    assert trends.findings == trends_before.findings


def test_an_item_that_was_never_wrong_is_listed_apart(full: Engine) -> None:
    """An item without an error is in no list of missed items; of a watch, all sessions count."""
    for session in _sessions(lambda _: True)[:3]:
        add_doubt(full, session, "watch.flaps", gate="")
    trends = _trends(full, pack="twin_jet")
    assert "watch.flaps" not in {one.item for one in trends.missed}
    (doubt,) = trends.unverified
    assert (doubt.item, doubt.gate_title, doubt.share.count, doubt.share.of) == (
        "watch.flaps",
        "",
        3,
        trends.sessions,
    )


@pytest.mark.parametrize(
    "filters", [{"level": "warning"}, {"error_class": "procedural error"}, {"seat": "captain"}]
)
def test_a_filter_of_findings_makes_no_doubt_a_met_item(full: Engine, filters: dict[str, str]) -> None:
    """Whatever findings are selected, a session in which the item could not be verified is not among its chances."""
    before = {one.item: one.share for one in _trends(full, pack="twin_jet", **filters).missed}[DOORS]
    for session in _sessions(lambda session: not _wrong(session))[:4]:
        add_doubt(full, session, DOORS, seat="first_officer")
    after = {one.item: one for one in _trends(full, pack="twin_jet", **filters).missed}[DOORS]
    assert (after.share.count, after.share.of, after.not_verified) == (before.count, before.of - 4, 4)


def test_sessions_in_which_data_were_missing(full: Engine) -> None:
    """Each selected session with a gap counts once."""
    first, second = _sessions(lambda _: True)[:2]
    other = next(session["id"] for session in ROWS.sessions if session["pack"] == "trainer")
    for session in (first, first, second, other):
        add_gap(full, session)
    assert (_trends(full).gap_sessions, _trends(full, pack="twin_jet").gap_sessions) == (3, 2)
    assert found_text(_trends(full)).endswith(", data missing in 3 sessions")


def test_the_list_of_sessions_counts_doubts_apart(full: Engine) -> None:
    """A doubt is in no count of a level."""
    session = _sessions(lambda _: True)[0]
    add_doubt(full, session, DOORS)
    with read_transaction(full) as connection:
        listed = {one.uuid: one for one in list_sessions(connection)}
    errors = sum(found["session"] == session for found in ROWS.findings)
    assert (sum(listed[session].levels.values()), listed[session].doubts) == (errors, 1)
    assert session_found_text(listed[session]).endswith("1 not verifiable")


def test_numbers_that_are_not_shown_are_not_zero(full: Engine) -> None:
    """With fewer than five sessions no count but that of the sessions is a number, and no text has a finding."""
    with write_transaction(full) as connection:
        connection.execute(insert(schema.person).values(id=99, pseudonym="Rail"))
        for session in ROWS.sessions[:3]:
            seating = {"session": session["id"], "number": 9, "seat": "captain", "person": 99}
            connection.execute(insert(schema.seating).values(**seating, sim_s=0.0, utc=session["began_utc"]))
    trends = _trends(full, person="Rail")
    assert trends.sessions == 3
    assert (trends.findings, trends.doubts, trends.doubt_sessions, trends.gap_sessions, trends.rare) == (
        None,
    ) * 5
    assert (found_text(trends), trends.unverified) == ("", ())


def test_rows_that_are_not_shown_are_not_called_none() -> None:
    """Where every item has too few sessions, the text does not say that there were no findings."""
    assert no_items_text(Trends(9, 4, 0, rare=4)) == "No item with five sessions or more."
    assert no_items_text(Trends(9, 0, 0, rare=0)) == "No findings."


def test_a_share_of_nothing_is_not_zero(full: Engine) -> None:
    """Passages for which nothing was recorded have no share."""
    assert (share_text(share_of(0, 0)), interval_text(share_of(0, 0))) == ("not recorded", "")
    gates: tuple[GateTrend, ...] = _trends(full).gates
    assert {share_text(gate.fully_judged) for gate in gates} == {"not recorded"}
