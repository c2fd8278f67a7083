"""Conditions evaluated over samples give the truths and reasons in `tests/cases/evaluate_*.yaml`.

Takes: the cases.  Gives: one test for each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from rules.faults import Place
from rules.language.check import check
from rules.language.checked_tree import Condition
from rules.language.online import Monitors
from rules.language.scope import PackLimit, Scope
from rules.language.truth import Truth
from rules.signals.book import load_books
from rules.signals.model import Quality, Sample, Value

CASES = Path(__file__).parents[3] / "cases"
ITEMS = {"beacon": "Beacon", "pumps": "Fuel pumps", "documents": "Documents"}
LOSSY = frozenset(load_books(["twin_jet"]))
TRUTHS: Mapping[object, Truth] = {True: True, False: False, "unknown": None}


@dataclass(frozen=True)
class Case:
    """One condition with its steps and expected results."""

    case: str
    condition: str
    steps: list[dict[str, Any]]
    items: dict[str, str] = field(default_factory=dict)
    inoperative: list[str] = field(default_factory=list)
    steady: bool = False
    joined: bool = False


@dataclass
class Panel:
    """State whose samples have the quality that a case gives them."""

    values: dict[str, Value] = field(default_factory=dict)
    samples: dict[str, Sample] = field(default_factory=dict)

    def sample(self, name: str) -> Sample:
        """Latest sample."""
        return self.samples.get(name, Sample(name, None, Quality.ABSENT, 0.0))

    def put(self, name: str, value: Value | None, quality: Quality, sim_s: float) -> Sample:
        """Set one sample."""
        sample = self.samples[name] = Sample(name, value, quality, sim_s)
        self.values.pop(name, None)
        if quality is Quality.FRESH and value is not None:
            self.values[name] = value
        return sample

    def take(self, step: Mapping[str, Any]) -> list[Sample]:
        """Set one step's samples."""
        sim_s, changed = float(step["at"]), []
        for name, value in step.get("set", {}).items():
            quality = Quality.INVALID if value is None else Quality.FRESH
            number = float(value) if isinstance(value, int | float) else value
            changed.append(self.put(name, number, quality, sim_s))
        stale = step.get("stale", [])
        return changed + [self.put(name, self.sample(name).value, Quality.STALE, sim_s) for name in stale]


def _cases() -> list[Case]:
    """All cases of all files, in their order."""
    paths = sorted(CASES.glob("evaluate_*.yaml"))
    return [
        Case(**entry) for path in paths for entry in YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    ]


@cache
def _scope() -> Scope:
    return Scope(
        load_books(["twin_jet", "trip"]),
        {"push_approved": "push approved", "takeoff": "take-off clearance"},
        {
            "start_egt": PackLimit(740.0, "degC", "start EGT limit"),
            "idle_egt": PackLimit(450.0, "degC", "idle EGT limit"),
            "imbalance": PackLimit(300.0, "kg", "imbalance limit"),
        },
        {f"flow.before_start.{key}": label for key, label in ITEMS.items()},
        "before_start",
        speakers=("captain", "first_officer", "ground"),
    )


def _checked(text: str, inoperative: Sequence[str] = ()) -> Condition:
    scope = replace(_scope(), inoperative=tuple(inoperative))
    return check(text, scope, lambda offset: Place("case", 1, offset + 1, text))


def _step(monitors: Monitors, panel: Panel, step: Mapping[str, Any]) -> None:
    """Run one step."""
    if step.get("restart"):
        monitors.restart()
    for item, truth in step.get("items_set", {}).items():
        monitors.set_item_truth(item, truth)
    if "missing_from" in step:
        monitors.lose_data(float(step["missing_from"]), float(step["at"]))
    monitors.advance(float(step["at"]), panel.take(step), step.get("call", ()), step.get("by", ()))


@pytest.mark.parametrize("case", _cases(), ids=lambda case: case.case)
def test_each_case_gives_its_expected_results(case: Case) -> None:
    """At each step the condition has the truth and the reason of the case."""
    panel = Panel()
    conditions = {
        "it": _checked(case.condition, case.inoperative),
        **{name: _checked(text) for name, text in case.items.items()},
    }
    monitors = Monitors(conditions, panel, steady=case.steady, lossy=LOSSY)
    for step in case.steps:
        _step(monitors, panel, step)
        if step is case.steps[0] and (case.joined or case.steady):
            monitors.set_unseen_past(float(step["at"]), calls="call" not in step)
        reason = monitors.explain("it")
        where = f"at {step['at']}"
        assert (where, monitors.truth("it")) == (where, TRUTHS[step["is"]])
        assert reason.truth is monitors.truth("it"), where
        actual_texts = {"sentence": reason.sentence, "actual": reason.actual, "wanted": reason.wanted}
        expected_texts = {key: step[key] for key in actual_texts if key in step}
        assert (where, {key: actual_texts[key] for key in expected_texts}) == (where, expected_texts)


def test_each_sentence_is_met_at_one_step_and_not_at_another() -> None:
    """The twenty sentences of `evaluate_sentences.yaml` are each seen met and not met."""
    text = (CASES / "evaluate_sentences.yaml").read_text("utf-8")
    cases = [Case(**entry) for entry in YAML(typ="safe").load(text)]
    assert len(cases) == 20
    for case in cases:
        assert {True, False} <= {step["is"] for step in case.steps}, case.case


def test_cases_differ() -> None:
    """No two cases have the same name, and every step has a known outcome and known keys."""
    cases = _cases()
    names = [case.case for case in cases]
    assert sorted(set(names)) == sorted(names)
    known = {
        "at",
        "missing_from",
        "set",
        "stale",
        "call",
        "by",
        "items_set",
        "restart",
        "is",
        "sentence",
        "actual",
        "wanted",
    }
    assert {key for case in cases for step in case.steps for key in step} <= known


def test_the_conformance_files_have_enough_cases() -> None:
    """The conformance files have at least 130 cases, 60 of them with a sentence."""
    cases = _cases()
    assert len(cases) >= 130
    assert sum(any("sentence" in step for step in case.steps) for case in cases) >= 60
