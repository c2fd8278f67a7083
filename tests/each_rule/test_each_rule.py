"""A sample of the rules, each broken by a slip from its own condition; `python -m tests.each_rule` tries all."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from rules.packs.model import Item, Watch, declared_id
from tests.each_rule.__main__ import (
    ALONE,
    ELSEWHERE,
    IN_CASE,
    MISSING,
    first_matches,
    outcome_of,
    replayed,
    totals_table,
)
from tests.each_rule.breaking_changes import Change
from tests.each_rule.clean_flights import FLIGHTS, clean_flight
from tests.each_rule.known_cases import known_cases
from tests.each_rule.reasons import TESTS, reasons
from tests.each_rule.saved_slips import SavedSlip, save_slips, saved_slips
from tests.each_rule.trials import Trial, find_slips

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="branches of a flight are child processes: POSIX only"
)
SAMPLE = 9
"""Rules of the trainer of which one is tried; the whole run tries all of both packs."""
EVERY_SAVED = {"trainer": 2, "twin_jet": 6}
"""Saved slips of a pack of which one is laid over its flight again; the whole run does so with all."""
AGAIN = "`python -m tests.each_rule --write` searches another"
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


SAVED = [(pack, rule) for pack, every in EVERY_SAVED.items() for rule in sorted(saved_slips(pack))[::every]]


@pytest.fixture(scope="module")
def trials() -> Mapping[tuple[str, str], Trial]:
    """The saved slips, laid over their flights again."""
    found: dict[tuple[str, str], Trial] = {}
    for pack in EVERY_SAVED:
        wanted = {rule for one, rule in SAVED if one == pack}
        rules = [rule for rule in first_matches(pack) if rule.id in wanted]
        found |= {(pack, rule): one for rule, one in replayed(pack, rules, saved_slips(pack)).items()}
    return found


@pytest.mark.parametrize(("pack", "rule"), SAVED)
def test_a_saved_slip_is_found_as_before(
    trials: Mapping[tuple[str, str], Trial], pack: str, rule: str
) -> None:
    """A saved slip is found by its rule, with a sentence, and by no more rules than when it was saved."""
    trial = trials.get((pack, rule))
    assert trial is not None, f"its flight has no such moment: {AGAIN}"
    assert saved_slips(pack)[rule].is_as_saved(trial), f"{trial}: {AGAIN}"


def test_a_saved_slip_that_is_not_found_any_more_fails() -> None:
    """A slip that breaks nothing, and one with which more is found than before, are not as saved."""
    slip = SavedSlip.model_validate(
        {"flight": "circuit", "begins": "entry taxi + 1 s", "besides": ["watch.a"]}
    )
    trial = Trial("watch.b", "circuit", 1.0, Change(), sentence="The gauge", others=("watch.a",))
    assert slip.is_as_saved(trial)
    assert not slip.is_as_saved(replace(trial, sentence=""))
    assert not slip.is_as_saved(replace(trial, others=("watch.a", "watch.c")))


def test_a_slip_can_be_saved_and_read(tmp_path: Path) -> None:
    """What is read is what was saved, also words that look like truths."""
    put = {"a.switch": "on", "b.light": "no", "c.level": 0.1}
    slip = SavedSlip.model_validate(
        {"flight": "circuit", "begins": "cue taxi + 1.5 s", "put": put, "calls": ["a"]}
    )
    save_slips("trainer", {"watch.b": slip}, tmp_path)
    assert saved_slips("trainer", tmp_path) == {"watch.b": slip}


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
    assert outcome_of("trainer", NOT_A_RULE, Trial(NOT_A_RULE, "circuit", 1.0, Change())) == MISSING


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
