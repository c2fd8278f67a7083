"""A sample of the rules, each broken by a slip from its own condition; `python -m tests.each_rule` tries all."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Mapping

import pytest

from rules.packs.model import Item, Watch, declared_id
from tests.each_rule.__main__ import (
    ALONE,
    ELSEWHERE,
    IN_CASE,
    MISSING,
    first_matches,
    outcome_of,
    totals_table,
)
from tests.each_rule.clean_flights import FLIGHTS, clean_flight
from tests.each_rule.known_cases import known_cases
from tests.each_rule.reasons import TESTS, reasons
from tests.each_rule.trials import Trial, find_slips

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="branches of a flight are child processes: POSIX only"
)
SAMPLE = 9
"""Rules of the trainer of which one is tried; the whole run tries all of both packs."""
NOT_A_RULE = "watch.nobody_wrote_this"


def _sample() -> list[Item | Watch]:
    rules = [rule for rule in first_matches("trainer") if declared_id(rule.id) not in reasons()]
    return rules[::SAMPLE]


@pytest.fixture(scope="module")
def slips() -> Mapping[str, Trial]:
    """Slips of the sample, in one circuit."""
    return find_slips(clean_flight("circuit"), _sample(), {})


@pytest.mark.parametrize("rule", _sample(), ids=lambda rule: rule.id)
def test_a_slip_is_found_with_a_sentence(slips: Mapping[str, Trial], rule: Item | Watch) -> None:
    """The slip that breaks a rule is found by that rule, and has a sentence."""
    assert slips[rule.id].sentence, slips.get(rule.id)
    assert slips[rule.id].slip != "nothing"


def test_the_flights_are_clean() -> None:
    """Nothing is found in the circuit over which the slips are laid."""
    assert clean_flight("circuit").found == set()


def test_most_slips_are_found_alone(slips: Mapping[str, Trial]) -> None:
    """Of most rules there is a slip in which only they speak."""
    assert sum(trial.alone for trial in slips.values()) >= 0.7 * len(slips)


def test_every_reason_is_of_a_rule_and_its_slip_is_where_it_says() -> None:
    """Each rule of `reasons.yaml` is in a pack, and a file that has its slip names it."""
    rules = {declared_id(rule.id) for pack in FLIGHTS for rule in first_matches(pack)}
    assert set(reasons()) <= rules
    assert [rule for rule, reason in reasons().items() if not reason.names(rule)] == []
    assert all((TESTS / reason.flown).is_file() for reason in reasons().values() if reason.flown)


def test_a_rule_without_slip_and_reason_is_missing() -> None:
    """Such a rule fails the command."""
    assert outcome_of("trainer", NOT_A_RULE, None) == MISSING
    assert outcome_of("trainer", NOT_A_RULE, Trial(NOT_A_RULE, "circuit", 1.0, "nothing")) == MISSING


def test_a_case_finds_a_rule_alone_only_where_it_lists_no_other() -> None:
    """The fuel gauge that stands still is found alone; the altimeter that does, with the one that disagrees."""
    assert outcome_of("twin_jet", "watch.fuel_quantity_still", None) == IN_CASE
    assert outcome_of("twin_jet", "watch.altimeter_still.captain", None) == ELSEWHERE
    assert outcome_of("trainer", "watch.fuel_quantity_still", None) == MISSING
    known = {rule for pack, rule in known_cases() if pack == "twin_jet"}
    assert known <= {declared_id(rule.id) for rule in first_matches("twin_jet")}


def test_the_totals_are_a_table() -> None:
    """Each outcome has a row, with the number of rules of each pack."""
    text = totals_table({"trainer": Counter({ALONE: 3, MISSING: 1})})
    assert "| found alone | 3 |" in text
    assert "| not found | 1 |" in text
    assert "| rules | 4 |" in text
