"""A flight with slips gives the findings of its slips, and no other."""

from __future__ import annotations

import pytest

from mock_sim.run import Flight
from tests.false_alarms.__main__ import catalogue
from tests.false_alarms.expected_findings import load_expected
from tests.false_alarms.simulated_flight import GOOD_NETWORK, PACKS, fly
from tests.shipped import shipped_pack

EXPECTED = load_expected()


@pytest.mark.parametrize("scenario", PACKS)
def test_every_slip_has_its_findings(scenario: str) -> None:
    """Each slip of the catalogue is in the table with at least one finding, and the table has no other slip."""
    assert sorted(EXPECTED[scenario]) == sorted(catalogue(scenario))
    assert [slip for slip, findings in EXPECTED[scenario].items() if not findings] == []


@pytest.mark.parametrize("scenario", PACKS)
def test_every_expected_finding_is_in_the_pack(scenario: str) -> None:
    """Each item and watch in the table is one of the pack."""
    pack = shipped_pack(PACKS[scenario])
    known = {*pack.items, *(watch.id for watch in pack.watches)}
    assert {item for findings in EXPECTED[scenario].values() for item in findings} - known == set()


@pytest.mark.parametrize("scenario", PACKS)
def test_a_demonstration_gives_the_findings_of_its_slips(scenario: str) -> None:
    """The slips of a demonstration together give the findings that each gives alone, and no other."""
    demo = Flight(scenario).scenario.demo
    table = EXPECTED["departure"] | EXPECTED[scenario]
    must = {item: kinds for slip in demo for item, kinds in table[slip].items()}
    assert fly(scenario, 1, demo, rate_hz=5.0, network_faults=GOOD_NETWORK).found == must
