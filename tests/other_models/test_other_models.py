"""Aeroplanes of the JSBSim library that no map knows: nothing untrue is reported, and nothing unseen counts as met."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from mock_sim.jsbsim.installation import INSTALL_HINT, jsbsim_installed
from rules.language.traversal import required_and_met
from rules.packs.condition_facts import signals_read
from rules.packs.model import FindingKind, Item
from tests.other_models.flight import SIGNALS, JudgedFlight, Model, fly, models
from tests.requirements import skip_or_fail
from tests.shipped import shipped_pack

pytestmark = [pytest.mark.real]
SENT = {*SIGNALS, "flight.on_ground"}


@pytest.fixture(scope="module")
def flown() -> Mapping[str, JudgedFlight]:
    """Each model, flown once; without the library skipped, and failed in CI."""
    if not jsbsim_installed():
        skip_or_fail(f"the JSBSim library is not installed, nothing real is flown: {INSTALL_HINT}")
    return {model.folder: fly(model) for model in models()}


def _exceeded(pack: str, rule: str) -> frozenset[str]:
    """Signals of what a rule asks for: without when it applies, and without what excuses it; a figure by its inputs."""
    loaded = shipped_pack(pack)
    found = loaded.items.get(rule) or next(watch for watch in loaded.watches if watch.id == rule)
    asked = found.condition if isinstance(found, Item) else found.expect
    assert asked is not None
    inputs = {figure.signal.name: figure.input_signals for figure in loaded.figures}
    names = signals_read(required_and_met(asked))
    while figures := names & inputs.keys():
        names = names.difference(figures).union(*(inputs[name] for name in figures))
    return names


def _read(pack: str, rule: str) -> frozenset[str]:
    """Signals that a rule reads, without those of the sheet."""
    loaded = shipped_pack(pack)
    found = loaded.items.get(rule) or next(watch for watch in loaded.watches if watch.id == rule)
    conditions = (found.condition,) if isinstance(found, Item) else (found.expect, found.applies)
    return signals_read(*conditions)


@pytest.mark.parametrize("model", models(), ids=lambda model: model.folder)
def test_the_phases_follow_the_flight(flown: Mapping[str, JudgedFlight], model: Model) -> None:
    """From height, speeds and attitude alone the phases are recognised; the flight climbed, turned and descended."""
    judged = flown[model.folder]
    assert tuple(judged.entered) == model.phases
    assert max(judged.heights_ft) > 1.02 * model.height_ft
    assert judged.heights_ft[-1] < 0.8 * model.height_ft
    assert judged.steepest_deg > 9.0


@pytest.mark.parametrize("model", models(), ids=lambda model: model.folder)
def test_only_measured_limits_are_reported(flown: Mapping[str, JudgedFlight], model: Model) -> None:
    """A finding is a limit of values that were sent: never something omitted that nobody can see."""
    judged = flown[model.folder]
    for opened in judged.findings:
        assert opened.finding.kind is FindingKind.LIMIT_EXCEEDED, opened.finding.sentence
        assert _exceeded(model.pack, opened.finding.item) <= SENT
    found = {opened.finding.item for opened in judged.findings}
    assert {notice.item for notice in judged.notices} <= found


@pytest.mark.parametrize("model", models(), ids=lambda model: model.folder)
def test_nothing_is_met_that_was_not_seen(flown: Mapping[str, JudgedFlight], model: Model) -> None:
    """Each rule that counts as met reads a signal that was sent, and a gate judges no more needs than read one."""
    judged, pack = flown[model.folder], shipped_pack(model.pack)
    assert judged.met
    assert [rule for rule in judged.met if not _read(model.pack, rule) & SENT] == []
    needs = {gate.id: gate.needs for gate in pack.gates}
    for entered in judged.gates:
        seen = [need for need in needs[entered.gate] if _read(model.pack, need) & SENT]
        assert entered.judged <= len(seen)
        assert len(seen) < entered.needs or not needs[entered.gate]
