"""Random tests can be repeated: the same inputs in each run, and a failing one printed as code that creates it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from math import inf, nan
from pathlib import Path
from textwrap import dedent

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.vendor.pretty import pretty

import rules.language.checked_tree
import rules.language.syntax
import rules.signals.model
from rules.signals.model import Quality, Sample
from tests.rules.judge.batch import compare_batch, test_judge
from tests.rules.language import condition_strategies, oracle_histories, syntax_strategies

ROOT = Path(__file__).resolve().parents[1]
FAILING = """
from dataclasses import dataclass

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.signals.model import Quality, Sample

@dataclass(frozen=True)
class Drawn:
    number: int
    sample: Sample

SAMPLES = st.builds(Sample, st.just("a"), st.floats(0, 9), st.sampled_from(list(Quality)), st.just(0.0))
SEEN = []

@settings(max_examples=20)
@given(st.builds(Drawn, st.integers(), SAMPLES))
def test_draws(drawn):
    SEEN.append(drawn)

def test_drawn():
    print("DRAWN", len(SEEN), SEEN)

@given(st.builds(Drawn, st.integers(), SAMPLES))
def test_fails(drawn):
    assert drawn.number < 1000
"""


def _run(folder: Path, *options: str) -> str:
    """Run pytest on the failing test file as a contributor does, and give its output."""
    (folder / "test_failing.py").write_text(FAILING)
    words = [
        "-m",
        "pytest",
        "-q",
        "-rP",
        "-p",
        "tests.conftest",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        str(folder),
    ]
    run = subprocess.run(
        [sys.executable, *words, *options, "test_failing.py"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert run.returncode == 1, run.stdout + run.stderr
    return run.stdout


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Output of a first run."""
    return _run(tmp_path_factory.mktemp("first"))


def _drawn(printed: str) -> str:
    """Give the inputs that the passing random test received."""
    return next(line for line in printed.splitlines() if line.startswith("DRAWN"))


def test_the_default_profile_draws_the_same_in_each_run() -> None:
    """The seed follows from the test, and no database of earlier runs is read."""
    profile = settings.get_profile("ci")
    assert profile.derandomize
    assert profile.database is None
    assert profile.print_blob
    assert profile.deadline is None


def test_the_search_profile_has_no_fixed_seed() -> None:
    """The profile has no fixed seed, and prints a blob for each failure."""
    profile = settings.get_profile("search")
    assert not profile.derandomize
    assert profile.print_blob


def test_two_runs_draw_the_same_and_a_search_does_not(first: str, tmp_path: Path) -> None:
    """Two runs have the same inputs, a search has others and as many times more as requested."""
    assert _drawn(first) == _drawn(_run(tmp_path))
    found = _drawn(_run(tmp_path, "--hypothesis-profile=search", "--examples-times=3"))
    assert _drawn(first).startswith("DRAWN 20 ")
    assert found.startswith("DRAWN 60 ")
    assert _drawn(first).removeprefix("DRAWN 20 ")[:200] != found.removeprefix("DRAWN 60 ")[:200]


def test_a_failing_input_is_printed_as_code(first: str) -> None:
    """The printed input creates the same input again, and a blob reproduces it."""
    printed = dedent(re.sub(r"^E ? ?", "", first, flags=re.MULTILINE))
    call = re.search(r": test_fails\($(.*?)^ *\)$", printed, re.DOTALL | re.MULTILINE)
    assert call is not None, printed
    known = {"Drawn": lambda number, sample: (number, sample), "Sample": Sample, "Quality": Quality}
    number, sample = eval(f"dict({call[1].strip()})", known)["drawn"]  # noqa: S307
    assert number == 1000
    assert sample == Sample("a", 0.0, Quality.FRESH, 0.0)
    assert "@reproduce_failure(" in printed


def _namespace() -> dict[str, object]:
    """Names that a contributor imports to paste an input."""
    modules = (rules.signals.model, rules.language.checked_tree, oracle_histories, compare_batch)
    return {"nan": nan, "inf": inf, **{k: v for module in modules for k, v in vars(module).items()}}


_INPUTS = st.one_of(test_judge.inputs(), condition_strategies.conditions, condition_strategies.steps())


@settings(max_examples=60)
@given(_INPUTS)
def test_evaluator_inputs_print_as_code(drawn: object) -> None:
    """Frames, requests, traces and checked conditions print exactly (`nan` differs from itself, so the prints are compared)."""
    evaluated = eval(pretty(drawn), _namespace())  # noqa: S307
    assert pretty(evaluated) == pretty(drawn)


@settings(max_examples=60)
@given(syntax_strategies.conditions)
def test_parser_inputs_print_as_code(drawn: rules.language.syntax.ConditionExpr) -> None:
    """Syntax trees print as code that creates equal ones."""
    space = {**_namespace(), **vars(rules.language.syntax)}
    assert eval(pretty(drawn), space) == drawn  # noqa: S307
