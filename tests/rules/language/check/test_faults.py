"""Every fault of a condition is reported at its place, as listed in `tests/cases/faults.yaml`.

Takes: the cases.  Gives: one test for each.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from rules.faults import Fault, InputFaults
from rules.language.check import check
from tests.rules.language.scopes import SCOPES, at

CASES = Path(__file__).parents[3] / "cases" / "faults.yaml"


@dataclass(frozen=True)
class FaultCase:
    """One condition with all its faults."""

    case: str
    condition: str
    faults: list[dict[str, Any]]
    scope: str = "small"


def _cases() -> list[FaultCase]:
    return [FaultCase(**entry) for entry in YAML(typ="safe").load(CASES.read_text(encoding="utf-8"))]


def _as_dict(fault: Fault) -> dict[str, Any]:
    place = fault.place
    return {
        "line": place.line,
        "column": place.column,
        "what": fault.what,
        "expected": fault.expected,
        "hint": fault.hint,
    }


@pytest.mark.parametrize("case", _cases(), ids=lambda case: case.case)
def test_every_fault_at_its_place(case: FaultCase) -> None:
    """The check finds exactly the faults of the case, in the order of the text."""
    with pytest.raises(InputFaults) as caught:
        check(case.condition, SCOPES[case.scope], at(case.condition))
    assert [_as_dict(fault) for fault in caught.value.faults] == [
        {"line": 1, **fault} for fault in case.faults
    ]


def test_cases_differ() -> None:
    """No two cases have the same name or the same condition in the same scope."""
    cases = _cases()
    assert len({case.case for case in cases}) == len(cases)
    assert len({(case.condition, case.scope) for case in cases}) == len(cases)


def test_a_fault_prints_its_line_and_a_caret() -> None:
    """The printed fault shows the line, a caret under the place, and the hint."""
    text = "lights.beacon is on\nand speed > 80"
    with pytest.raises(InputFaults) as caught:
        check(text, SCOPES["small"], at(text))
    assert str(caught.value) == (
        "case:2:13: a number without a unit, expected a unit such as kt\n"
        "    and speed > 80\n"
        "                ^\n"
        "    hint: write `80 kt`"
    )
