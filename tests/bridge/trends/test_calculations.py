"""Tests of trends against the same calculation in plain Python, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine, insert, update

from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from bridge.trends.calculations import MIN_SESSIONS, Trends, calculate_trends
from bridge.trends.filters import TrendFilter
from bridge.trends.trend_text import found_text
from rules.faults import InputFaults
from tests.bridge.trends.sample_store import SampleRows, fill, sample_rows

ROWS = sample_rows(80)


@pytest.fixture
def full(store: Engine) -> Engine:
    """A store with eighty sessions."""
    fill(store, ROWS)
    return store


def _trends(store: Engine, **filters: str) -> Trends:
    with read_transaction(store) as connection:
        return calculate_trends(connection, TrendFilter(**filters))


def _selected(rows: SampleRows, **filters: str) -> set[str]:
    """Return the ids of the selected sessions, in plain Python."""
    people = {p["pseudonym"]: p["id"] for p in rows.persons}
    sat = {s["session"] for s in rows.seatings if s["person"] == people.get(filters.get("person", ""))}
    at_gate = {
        row["session"] for row in (*rows.passages, *rows.findings) if row["gate"] == filters.get("gate")
    }
    return {
        s["id"]
        for s in rows.sessions
        if all(s[name] == filters[name] for name in ("course", "pack", "device") if name in filters)
        and ("person" not in filters or s["id"] in sat)
        and ("gate" not in filters or s["id"] in at_gate)
    }


FILTERS: list[dict[str, str]] = [
    {},
    {"course": "Course 12"},
    {"pack": "twin_jet"},
    {"device": "bay-2", "pack": "twin_jet"},
    {"seat": "captain"},
    {"gate": "push_back"},
    {"error_class": "procedural error"},
    {"level": "warning", "course": "Course 11"},
    {"person": "Heron"},
]


@pytest.mark.parametrize("filters", FILTERS, ids=lambda c: ", ".join(c.values()) or "all")
def test_missed_items(full: Engine, filters: dict[str, str]) -> None:
    """Count and chances of each item equal a plain calculation over the rows."""
    sessions = _selected(ROWS, **filters)
    pack = {s["id"]: s["pack"] for s in ROWS.sessions}
    people = {p["pseudonym"]: p["id"] for p in ROWS.persons}
    found = [
        f
        for f in ROWS.findings
        if f["session"] in sessions
        and all(
            f[name] == filters[name] for name in ("seat", "gate", "error_class", "level") if name in filters
        )
        and ("person" not in filters or f["person"] == people[filters["person"]])
    ]
    expected: dict[tuple[str, str, str], tuple[int, int]] = {}
    for key in {(pack[f["session"]], f["item"], f["gate"]) for f in found}:
        wrong = {f["session"] for f in found if (pack[f["session"]], f["item"], f["gate"]) == key}
        could = {p["session"] for p in ROWS.passages if p["gate"] == key[2]} if key[2] else sessions
        of = len({s for s in could & sessions if pack[s] == key[0]})
        if of >= MIN_SESSIONS:
            expected[key] = (len(wrong), of)
    trends = _trends(full, **filters)
    assert trends.withheld == ""
    assert {(m.pack, m.item, m.gate): (m.share.count, m.share.of) for m in trends.missed} == expected
    assert (trends.sessions, trends.findings) == (len(sessions), len(found))


def test_missed_items_are_ordered_by_the_lower_end(full: Engine) -> None:
    """Items are ordered by the lower ends of their intervals, so that 1 of 2 does not lead."""
    lows = [one.share.low for one in _trends(full).missed]
    assert lows == sorted(lows, reverse=True)


def test_gates(full: Engine) -> None:
    """Gates are in the order of the flight; passages that were not ready are counted apart from spare times."""
    trends = _trends(full, pack="twin_jet").gates
    assert [gate.gate for gate in trends] == ["push_back", "engine_start", "before_taxi", "takeoff"]
    ids = _selected(ROWS, pack="twin_jet")
    for gate in trends:
        passed = [
            p
            for p in ROWS.passages
            if p["session"] in ids and p["gate"] == gate.gate and p["entered_s"] is not None
        ]
        assert gate.not_ready.of == len(passed)
        assert gate.not_ready.count == sum(p["ready_s"] is None for p in passed)
        assert gate.open_at_cue.count == sum(p["open_at_cue"] > 0 for p in passed)
        assert gate.spare_s is not None
        assert gate.spare_s.count + gate.not_ready.count == len(passed)


def test_classes_and_months(full: Engine) -> None:
    """Every finding is in one class and one month; months with too few sessions are not shown."""
    trends = _trends(full)
    assert sum(one.findings for one in trends.classes) == len(ROWS.findings)
    months: dict[str, int] = {}
    for s in ROWS.sessions:
        month = f"{datetime.fromtimestamp(s['began_utc'], UTC):%Y-%m}"
        months[month] = months.get(month, 0) + 1
    assert {m.month: m.sessions for m in trends.months} == {
        k: v for k, v in months.items() if v >= MIN_SESSIONS
    }


def test_small_numbers_are_withheld(full: Engine) -> None:
    """A selection of fewer than five sessions is not shown."""
    days = sorted(s["began_utc"] for s in ROWS.sessions)
    since = f"{datetime.fromtimestamp(days[-3], UTC):%Y-%m-%d}"
    trends = _trends(full, since=since)
    assert trends.sessions == 3
    assert "Too few sessions (" in trends.withheld
    assert (trends.findings, trends.doubts) == (None, None)
    assert (trends.missed, trends.gates, trends.classes, trends.months) == ((), (), (), ())
    assert found_text(trends) == ""


def test_a_doubt_is_no_error(full: Engine) -> None:
    """What is not verifiable counts in its own class and beside the findings; as an error only where it is asked for."""
    before = _trends(full)
    f = schema.finding.c
    with write_transaction(full) as connection:
        connection.execute(
            update(schema.finding)
            .where(f.item == "flow.x.doors")
            .values(error_class="not verifiable", kind="not_verifiable")
        )
    after = _trends(full)
    doubts = sum(row["item"] == "flow.x.doors" for row in ROWS.findings)
    assert before.findings is not None
    assert doubts > 0
    assert (after.findings, after.doubts, before.doubts) == (before.findings - doubts, doubts, 0)
    sessions = len({row["session"] for row in ROWS.findings if row["item"] == "flow.x.doors"})
    assert found_text(after).endswith(f", {doubts} not verifiable in {sessions} sessions")
    assert {one.item for one in before.missed} - {one.item for one in after.missed} == {"flow.x.doors"}
    assert {one.error_class: one.findings for one in after.classes}["not verifiable"] == doubts
    assert sum(month.findings for month in after.months) < sum(month.findings for month in before.months)
    asked = _trends(full, error_class="not verifiable")
    assert (asked.findings, asked.doubts, {one.item for one in asked.missed}) == (doubts, 0, {"flow.x.doors"})


def test_an_event_of_the_aeroplane_is_no_error(full: Engine) -> None:
    """A threat counts in its own class, in no item that crews miss, and as a finding only where it is asked for."""
    before = _trends(full)
    f = schema.finding.c
    with write_transaction(full) as connection:
        connection.execute(
            update(schema.finding)
            .where(f.item == "flow.x.doors")
            .values(error_class="threat", kind="aeroplane_event", seat="aeroplane")
        )
    after = _trends(full)
    events = sum(row["item"] == "flow.x.doors" for row in ROWS.findings)
    assert before.findings is not None
    assert (after.findings, after.doubts) == (before.findings - events, 0)
    assert "flow.x.doors" not in {one.item for one in after.missed}
    assert {one.error_class: one.findings for one in after.classes}["threat"] == events
    assert _trends(full, error_class="threat").findings == events


def test_running_sessions_do_not_count(full: Engine) -> None:
    """A running session is not counted."""
    with write_transaction(full) as connection:
        connection.execute(
            update(schema.session).where(schema.session.c.name == "Session 1").values(ending="")
        )
    assert _trends(full).sessions == len(ROWS.sessions) - 1


def test_an_empty_store(store: Engine) -> None:
    """An empty store has the reason for no trends."""
    assert _trends(store).withheld == "No session matches."


def test_unknown_filter_values(full: Engine) -> None:
    """Every unknown filter value is reported with known ones and a hint; a wrong date too."""
    with pytest.raises(InputFaults) as caught:
        _trends(full, course="Course 21", seat="captan", since="yesterday")
    message = str(caught.value)
    assert (
        "--course: nothing in the store has course Course 21, expected one of Course 11, Course 12" in message
    )
    assert "did you mean captain" in message
    assert "--from: yesterday is not a date, expected a date such as 2026-11-25" in message


def test_days_are_included(full: Engine) -> None:
    """The first and the last day of a filter are included."""
    utc = sorted(s["began_utc"] for s in ROWS.sessions)
    since, until = (f"{datetime.fromtimestamp(one, UTC):%Y-%m-%d}" for one in (utc[10], utc[30]))
    assert _trends(full, since=since, until=until).sessions == 21


def test_a_filter_of_which_the_store_has_no_value(full: Engine) -> None:
    """Where sessions are stored but no person, the message says which is missing."""
    with write_transaction(full) as connection:
        connection.execute(schema.person.delete())
    with pytest.raises(InputFaults, match="expected no --person, since the store has none yet"):
        _trends(full, person="Heron")


def test_a_gate_of_few_sessions_shows_no_number(store: Engine) -> None:
    """With a gate chosen only the sessions count in which it was cued or found open, and five are needed."""
    rows = sample_rows(20)
    rare = [dict(row) for row in rows.passages if row["gate"] == "push_back"][:3]
    for number, row in enumerate(rare):
        row.update(gate="rare", number=900 + number)
    rows.passages.extend(rare)
    fill(store, rows)
    trends = _trends(store, gate="rare")
    assert (trends.sessions, trends.findings, trends.classes) == (3, None, ())
    assert trends.withheld.startswith("Too few sessions (3)")


def test_a_session_without_data_does_not_count(store: Engine) -> None:
    """A session in which nothing was received and judged is no chance for any item."""
    rows = sample_rows(20)
    fill(store, rows)
    before = _trends(store)
    empty = [{**row, "id": f"{'e' * 31}{number}"} for number, row in enumerate(rows.sessions[:6])]
    with write_transaction(store) as connection:
        connection.execute(insert(schema.session), empty)
    assert _trends(store) == before
