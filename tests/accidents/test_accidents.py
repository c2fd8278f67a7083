"""Every case of the accident table, and further ones of the same kinds, over the same clean flights."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Mapping

import pytest

from rules.judge.events import Finding
from tests.accidents.accident_case import Case, load_cases
from tests.accidents.branch_runner import FlightOutcomes, judge
from tests.accidents.clean_flight import record

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="branches of a flight are child processes: POSIX only"
)

CASES = load_cases("cases.yaml")
VARIANTS = load_cases("variants.yaml")
FURTHER = load_cases("further.yaml")
EVERY = [*CASES, *VARIANTS, *FURTHER]
FLIGHTS = ("sector", "circuit")
LESSONS = range(1, 10)


@pytest.fixture(scope="module")
def judged() -> Mapping[str, FlightOutcomes]:
    """Each flight, with a branch for each of its cases."""
    return {flight: judge(record(flight), [c for c in EVERY if c.flight == flight]) for flight in FLIGHTS}


@pytest.mark.parametrize("flight", FLIGHTS)
def test_the_flight_without_the_error_is_silent(judged: Mapping[str, FlightOutcomes], flight: str) -> None:
    """Without an overlay the whole flight gives no notice of any level and no finding."""
    assert [notice.sentence for notice in judged[flight].notices] == []
    assert judged[flight].findings == []


@pytest.mark.parametrize("case", EVERY, ids=lambda case: case.id)
def test_a_case_gives_its_findings_before_the_phase(judged: Mapping[str, FlightOutcomes], case: Case) -> None:
    """Before the entry of its gate, a case gives exactly its expected findings."""
    outcome = judged[case.flight].outcomes[case.id]
    found = {finding.item: finding.kind for finding in outcome.findings}
    assert found == case.finds, "\n".join(finding.sentence for finding in outcome.findings)
    assert outcome.lead_s(next(iter(case.finds))) > 0.0


@pytest.mark.parametrize("case", EVERY, ids=lambda case: case.id)
def test_reported_before_the_phase(judged: Mapping[str, FlightOutcomes], case: Case) -> None:
    """The crew gets a notice before the entry too, unless a quiet period holds back that level."""
    outcome = judged[case.flight].outcomes[case.id]
    main = next(iter(case.finds))
    reported = {notice.item for notice in outcome.notices}
    assert main in reported or held_back(outcome.findings, main)


@pytest.mark.parametrize("case", FURTHER, ids=lambda case: case.id)
def test_reported_by_name(judged: Mapping[str, FlightOutcomes], case: Case) -> None:
    """The notice names the error."""
    outcome = judged[case.flight].outcomes[case.id]
    assert case.notice_words
    assert any(case.notice_words.lower() in notice.sentence.lower() for notice in outcome.notices)


def held_back(findings: tuple[Finding, ...], item: str) -> bool:
    """True if the case is in the roll or on short final, where its level is held back."""
    return all(
        f.level != "warning" and f.phase in ("high_speed", "short_final") for f in findings if f.item == item
    )


def test_every_lesson_has_variants() -> None:
    """Each lesson of the accidents has at least 15 further variants."""
    counts = Counter(lesson for case in VARIANTS for lesson in case.lessons)
    assert {lesson: counts[lesson] for lesson in LESSONS if counts[lesson] < 15} == {}


def test_every_case_names_its_report() -> None:
    """Each case of the table has its report, and the source of its facts."""
    assert [case.id for case in CASES if not case.report or not case.source] == []
    assert [case.id for case in EVERY if not case.lessons or not case.gate] == []


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ("C3", "4 typed for 5?"),
        ("E1", "kilograms entered as pounds?"),
        ("E1-sheet", "kilograms entered as pounds?"),
        ("fuel_in_pounds", "kilograms entered as pounds?"),
        ("zero_fuel_mass_in_pounds", "kilograms entered as pounds?"),
        ("takeoff_mass_in_pounds", "kilograms entered as pounds?"),
    ],
)
def test_a_unit_error_is_named(judged: Mapping[str, FlightOutcomes], case: str, words: str) -> None:
    """Where the numbers have the ratio of a known mix-up, the sentence names it."""
    outcome = judged["sector"].outcomes[case]
    assert any(words in finding.sentence for finding in outcome.findings)


def test_an_invalid_moment_is_refused() -> None:
    """An invalid moment is refused."""
    with pytest.raises(ValueError, match="expected a moment"):
        Case.model_validate(
            {
                "id": "x",
                "title": "x",
                "layers": [{"begins": "soon"}],
                "gate": "taxi",
                "finds": {},
            }
        )


@pytest.mark.parametrize("end", [{}, {"gate": "taxi", "until": "entry taxi"}])
def test_a_case_has_one_end(end: Mapping[str, str]) -> None:
    """A case ends at a gate or at a moment, not at both or none."""
    with pytest.raises(ValueError, match="either a gate or until"):
        Case.model_validate({"id": "x", "title": "x", "finds": {}, **end})
