"""Fills a store with generated sessions; every number in it is invented.

Takes: an engine, the number of sessions.  Gives: `fill`, and the plain rows that it inserts.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Engine, func, insert, select

from bridge.store import schema
from bridge.store.database import write_transaction

BIRDS = ("Heron", "Plover", "Dunlin", "Curlew", "Teal", "Wigeon", "Snipe", "Ruff")
COURSES = ("Course 11", "Course 12", "Course 13")
GATES = (
    ("push_back", "Push back", 0.35),
    ("engine_start", "Engine start", 0.1),
    ("before_taxi", "Before taxi", 0.25),
    ("takeoff", "Take-off", 0.15),
)
ITEMS = {
    "push_back": (
        ("doors", "Doors", 0.2),
        ("fuel_pumps", "Fuel pumps", 0.12),
        ("trim", "Stabiliser trim", 0.06),
    ),
    "engine_start": (("beacon", "Beacon", 0.03),),
    "before_taxi": (("air_data_heat", "Air-data heat", 0.15), ("flaps", "Flaps for take-off", 0.05)),
    "takeoff": (("transponder", "Transponder", 0.08),),
    "": (("moving_with_doors", "Moving with a door open", 0.05),),
}
CLASSES = ("procedural error", "aircraft handling error", "undesired aircraft state")
FIRST_UTC = 1_767_225_600.0
"""1 January 2026."""
DAY_S = 86_400.0


@dataclass
class SampleRows:
    """The inserted rows, as plain dictionaries."""

    persons: list[dict[str, Any]] = field(default_factory=list)
    sessions: list[dict[str, Any]] = field(default_factory=list)
    seatings: list[dict[str, Any]] = field(default_factory=list)
    findings: list[dict[str, Any]] = field(default_factory=list)
    passages: list[dict[str, Any]] = field(default_factory=list)


def sample_rows(count: int, seed: int = 7) -> SampleRows:
    """Generate sessions of a year, with findings, passages and seats."""
    generator, rows = random.Random(seed), SampleRows()
    rows.persons = [{"id": number, "pseudonym": bird} for number, bird in enumerate(BIRDS, start=1)]
    for number in range(count):
        _session(rows, number, count, generator)
    return rows


def fill(engine: Engine, rows: SampleRows) -> None:
    """Insert the rows into a store."""
    tables: Sequence[tuple[Any, list[dict[str, Any]]]] = (
        (schema.person, rows.persons),
        (schema.session, rows.sessions),
        (schema.seating, rows.seatings),
        (schema.gate_passage, rows.passages),
        (schema.finding, rows.findings),
    )
    with write_transaction(engine) as connection:
        for table, given in tables:
            if given:
                connection.execute(insert(table), given)


def add_doubt(
    engine: Engine,
    session: str,
    item: str,
    *,
    gate: str = "push_back",
    seat: str = "captain",
    closed_s: float | None = None,
    carried: bool = False,
    corrected: bool = False,
) -> None:
    """Insert a finding that an item was not verifiable."""
    f = schema.finding.c
    with write_transaction(engine) as connection:
        last = connection.execute(select(func.max(f.number)).where(f.session == session)).scalar() or 0
        row = {
            "session": session, "number": last + 1, "kind": "not_verifiable", "error_class": "not verifiable",
            "item": item, "label": item, "gate": gate, "phase": gate, "seat": seat, "level": "advisory", "sim_s": 100.0,
            "utc": FIRST_UTC, "closed_s": closed_s, "carried": carried, "corrected": corrected,
        }  # fmt: skip
        connection.execute(insert(schema.finding).values(**row))


def add_gap(engine: Engine, session: str) -> None:
    """Insert a time for which data were missing."""
    g = schema.data_gap.c
    with write_transaction(engine) as connection:
        last = connection.execute(select(func.max(g.number)).where(g.session == session)).scalar() or 0
        row = {"session": session, "number": last + 1, "from_s": 1.0, "to_s": 3.0, "utc": FIRST_UTC}
        connection.execute(insert(schema.data_gap).values(**row))


def _session(rows: SampleRows, number: int, count: int, generator: random.Random) -> None:
    uuid = f"{number:032x}"
    began = FIRST_UTC + number * 330 * DAY_S / max(count, 1)
    pack = "trainer" if generator.random() < 0.2 else "twin_jet"
    rows.sessions.append(
        {
            "id": uuid,
            "device": generator.choice(("bay-1", "bay-2")),
            "name": f"Session {number + 1}",
            "course": generator.choice(COURSES),
            "began_utc": began,
            "last_utc": began + 4000,
            "ended_utc": began + 4000,
            "ending": "broken off" if generator.random() < 0.05 else "ended",
            "pack": pack,
            "trip": {},
            "inoperative": [],
            "seats": {"captain": "Captain", "first_officer": "First officer"},
        }
    )
    crew = dict(zip(("captain", "first_officer"), generator.sample(range(1, len(BIRDS) + 1), 2), strict=True))
    for line, (seat, person) in enumerate(crew.items(), start=2):
        rows.seatings.append(
            {"session": uuid, "number": line, "seat": seat, "sim_s": 0.0, "utc": began, "person": person}
        )
    for place, (gate, title, late_share) in enumerate(GATES, start=1):
        cue_s, open_now = 300.0 * place, generator.random() < late_share
        entered = None if generator.random() < 0.04 else cue_s + generator.uniform(5, 60)
        ready = None if open_now and generator.random() < 0.5 else cue_s - generator.uniform(-4, 200)
        rows.passages.append(
            {
                "session": uuid,
                "number": place,
                "gate": gate,
                "title": title,
                "phase": gate,
                "cue_s": cue_s,
                "cue_utc": began + cue_s,
                "open_at_cue": int(open_now) * generator.randint(1, 4),
                "entered_s": entered,
                "ready_s": ready,
                "carried": int(ready is None),
                "needs": 20,
            }
        )
    numbers = iter(range(1, 100))
    for gate, items in ITEMS.items():
        for item, label, share in items:
            for _ in range(2 if generator.random() < 0.1 else 1):
                if generator.random() < share:
                    seat = generator.choice(list(crew))
                    rows.findings.append(
                        {
                            "session": uuid,
                            "number": next(numbers),
                            "kind": "omitted",
                            "item": f"flow.x.{item}",
                            "label": label,
                            "gate": gate,
                            "phase": gate,
                            "seat": seat,
                            "level": generator.choice(("caution", "warning")),
                            "sim_s": 100.0,
                            "utc": began + 100.0,
                            "carried": generator.random() < 0.3,
                            "error_class": generator.choice(CLASSES),
                            "person": crew[seat],
                            "sentence": f"{label} not set",
                        }
                    )
