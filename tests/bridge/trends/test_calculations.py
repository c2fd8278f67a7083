"""Trends against the same reckoned in plain Python, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine, update

from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from bridge.trends.calculations import MIN_SESSIONS, Trends, calculate_trends
from bridge.trends.filters import TrendFilter
from rules.faults import InputFaults
from tests.bridge.trends.sample_store import SampleRows, fill, sample_rows

MADE = sample_rows(80)


@pytest.fixture
def full(store: Engine) -> Engine:
    """Eighty sessions."""
    fill(store, MADE)
    return store


def _trends(store: Engine, **choice: str) -> Trends:
    with read_transaction(store) as connection:
        return calculate_trends(connection, TrendFilter(**choice))


def _chosen(made: SampleRows, **choice: str) -> set[str]:
    """The sessions of a choice, in plain Python."""
    people = {p["pseudonym"]: p["id"] for p in made.persons}
    sat = {s["session"] for s in made.seatings if s["person"] == people.get(choice.get("person", ""))}
    return {
        s["id"]
        for s in made.sessions
        if all(s[name] == choice[name] for name in ("course", "pack", "device") if name in choice)
        and ("person" not in choice or s["id"] in sat)
    }


CHOICES: list[dict[str, str]] = [
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


@pytest.mark.parametrize("choice", CHOICES, ids=lambda c: ", ".join(c.values()) or "all")
def test_missed(full: Engine, choice: dict[str, str]) -> None:
    """Each item's count and chances are those of a plain reckoning over the rows."""
    sessions = _chosen(MADE, **choice)
    pack = {s["id"]: s["pack"] for s in MADE.sessions}
    people = {p["pseudonym"]: p["id"] for p in MADE.persons}
    found = [
        f
        for f in MADE.findings
        if f["session"] in sessions
        and all(
            f[name] == choice[name] for name in ("seat", "gate", "error_class", "level") if name in choice
        )
        and ("person" not in choice or f["person"] == people[choice["person"]])
    ]
    expected: dict[tuple[str, str, str], tuple[int, int]] = {}
    for key in {(pack[f["session"]], f["item"], f["gate"]) for f in found}:
        wrong = {f["session"] for f in found if (pack[f["session"]], f["item"], f["gate"]) == key}
        could = {p["session"] for p in MADE.passages if p["gate"] == key[2]} if key[2] else sessions
        of = len({s for s in could & sessions if pack[s] == key[0]})
        if of >= MIN_SESSIONS:
            expected[key] = (len(wrong), of)
    told = _trends(full, **choice)
    assert told.withheld == ""
    assert {(m.pack, m.item, m.gate): (m.share.count, m.share.of) for m in told.missed} == expected
    assert (told.sessions, told.findings) == (len(sessions), len(found))


def test_the_surest_come_first(full: Engine) -> None:
    """Items stand in the order of the lower ends of their intervals, so that one of two does not lead."""
    lows = [one.share.low for one in _trends(full).missed]
    assert lows == sorted(lows, reverse=True)


def test_gates(full: Engine) -> None:
    """Gates stand in the order of the flight, with how many were not ready counted apart from how early the others were."""
    told = _trends(full, pack="twin_jet").gates
    assert [gate.gate for gate in told] == ["push_back", "engine_start", "before_taxi", "takeoff"]
    ids = _chosen(MADE, pack="twin_jet")
    for gate in told:
        passed = [
            p
            for p in MADE.passages
            if p["session"] in ids and p["gate"] == gate.gate and p["entered_s"] is not None
        ]
        assert gate.not_ready.of == len(passed)
        assert gate.not_ready.count == sum(p["ready_s"] is None for p in passed)
        assert gate.open_at_cue.count == sum(p["open_at_cue"] > 0 for p in passed)
        assert gate.spare_s is not None
        assert gate.spare_s.count + gate.not_ready.count == len(passed)


def test_classes_and_months(full: Engine) -> None:
    """Every finding is in one class and one month; months of too few sessions are not shown."""
    told = _trends(full)
    assert sum(one.findings for one in told.classes) == len(MADE.findings)
    months: dict[str, int] = {}
    for s in MADE.sessions:
        month = f"{datetime.fromtimestamp(s['began_utc'], UTC):%Y-%m}"
        months[month] = months.get(month, 0) + 1
    assert {m.month: m.sessions for m in told.months} == {
        k: v for k, v in months.items() if v >= MIN_SESSIONS
    }


def test_small_numbers_are_withheld(full: Engine) -> None:
    """A choice of fewer sessions than five is not shown, by person or by anything else."""
    days = sorted(s["began_utc"] for s in MADE.sessions)
    since = f"{datetime.fromtimestamp(days[-3], UTC):%Y-%m-%d}"
    told = _trends(full, since=since)
    assert told.sessions == 3
    assert "Fewer than 5 sessions" in told.withheld
    assert (told.findings, told.missed, told.gates, told.classes, told.months) == (0, (), (), (), ())


def test_sessions_that_run_do_not_count(full: Engine) -> None:
    """A session is counted once it is over."""
    with write_transaction(full) as connection:
        connection.execute(
            update(schema.session).where(schema.session.c.name == "Session 1").values(ending="")
        )
    assert _trends(full).sessions == len(MADE.sessions) - 1


def test_an_empty_store_says_so(store: Engine) -> None:
    """Without sessions that is said."""
    assert _trends(store).withheld == "No session matches."


def test_a_filter_that_names_nothing(full: Engine) -> None:
    """Every filter that names nothing is said, with what there is and a hint; a day that is none too."""
    with pytest.raises(InputFaults) as caught:
        _trends(full, course="Course 21", seat="captan", since="yesterday")
    said = str(caught.value)
    assert "--course: nothing in the store has course Course 21, expected one of Course 11, Course 12" in said
    assert "did you mean captain" in said
    assert "--from: yesterday is not a date, expected a date such as 2026-11-25" in said


def test_days_are_included(full: Engine) -> None:
    """The first and the last day of a choice belong to it."""
    utc = sorted(s["began_utc"] for s in MADE.sessions)
    since, until = (f"{datetime.fromtimestamp(one, UTC):%Y-%m-%d}" for one in (utc[10], utc[30]))
    assert _trends(full, since=since, until=until).sessions == 21
