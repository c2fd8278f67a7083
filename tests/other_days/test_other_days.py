"""Each day of the `.yaml` files here, laid over a clean flight: exactly its findings, and no word more."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.accidents.accident_case import Case, load_cases
from tests.accidents.branch_runner import FlightOutcomes, judge
from tests.accidents.clean_flight import record

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="branches of a flight are child processes: POSIX only"
)

HERE = Path(__file__).parent
DAYS = [day for file in sorted(HERE.glob("*.yaml")) for day in load_cases(file.name, HERE)]
FLIGHTS = sorted({day.flight for day in DAYS})


@pytest.fixture(scope="module")
def judged() -> Mapping[str, FlightOutcomes]:
    """Each flight, with a branch for each of its days."""
    return {
        flight: judge(record(flight), [day for day in DAYS if day.flight == flight]) for flight in FLIGHTS
    }


def test_every_day_has_its_own_id() -> None:
    """Outcomes are found by the id of their day: two of one id would be judged as one."""
    ids = [day.id for day in DAYS]
    assert sorted(set(ids)) == sorted(ids)


@pytest.mark.parametrize("day", DAYS, ids=lambda day: day.id)
def test_a_day_gives_exactly_its_findings(judged: Mapping[str, FlightOutcomes], day: Case) -> None:
    """A correct crew hears nothing; of a wrong one exactly the findings that the day names are found."""
    outcome = judged[day.flight].outcomes[day.id]
    found = {finding.item: finding.kind for finding in outcome.findings}
    assert found == day.finds, "\n".join(finding.sentence for finding in outcome.findings)
    heard = {notice.item for notice in outcome.notices}
    assert heard <= set(day.finds)
    if day.notice_words:
        assert any(day.notice_words in notice.sentence for notice in outcome.notices), [
            one.sentence for one in outcome.notices
        ]
