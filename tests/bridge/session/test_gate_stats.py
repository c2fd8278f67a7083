"""Tests of bridge.session.gate_stats: readiness, cue and entry of each gate."""

from __future__ import annotations

import pytest

from bridge.session.gate_stats import GateStats
from rules.judge.events import GateCued, GateEntered, ItemStatus, MonitorsReset, Verdict, VerdictChanged
from rules.packs.model import Pack
from tests.shipped import shipped_pack

GATE, OTHER = "push_back", "engine_start"


@pytest.fixture(scope="module")
def pack() -> Pack:
    """Load the shipped pack."""
    return shipped_pack("twin_jet")


@pytest.fixture
def gate_stats(pack: Pack) -> GateStats:
    """Give statistics without events."""
    return GateStats(pack)


def _needs(pack: Pack) -> tuple[str, str]:
    first, second, *_ = next(gate for gate in pack.gates if gate.id == GATE).needs
    return first, second


def _status_change(item: str, status: ItemStatus, sim_s: float) -> VerdictChanged:
    return VerdictChanged(sim_s, item, Verdict.UNKNOWN, status, "", "", "")


def test_a_gate_is_ready_since_its_last_need_was_met(pack: Pack, gate_stats: GateStats) -> None:
    """Readiness starts when the last need is met, and the spare time counts from then."""
    first, second = _needs(pack)
    for entry in (
        _status_change(first, ItemStatus.OPEN, 1.0),
        _status_change(second, ItemStatus.OPEN, 1.0),
        _status_change(first, ItemStatus.MET, 5.0),
        _status_change(second, ItemStatus.WAIVED, 30.0),
        GateCued(40.0, GATE, 0, 2, 2, 0),
        GateEntered(100.0, GATE, 0, 2, 1, 0, 0),
    ):
        gate_stats.fold(entry)
    (passage,) = gate_stats.passages
    assert (passage.number, passage.cue_s, passage.entered_s, passage.ready_s) == (1, 40.0, 100.0, 30.0)
    assert passage.spare_s == 70.0
    assert (passage.needs, passage.judged, passage.fully_judged) == (2, 1, False)
    assert passage.text == "0 open, 1 of 2 judged at the entry"


def test_a_gate_with_an_open_need_is_not_ready(pack: Pack, gate_stats: GateStats) -> None:
    """A gate that is entered with an open need was never ready."""
    first, _ = _needs(pack)
    gate_stats.fold(_status_change(first, ItemStatus.OPEN, 1.0))
    cued = gate_stats.fold(GateCued(40.0, GATE, 1, 2, 2, 0))
    assert cued is not None
    assert (cued.open_at_cue, cued.ready_s) == (1, None)
    entered = gate_stats.fold(GateEntered(50.0, GATE, 1, 2, 1, 0, 1))
    assert entered is not None
    assert (entered.carried, entered.ready_s, entered.spare_s) == (1, None, None)


def test_a_need_lost_in_the_sample_of_the_entry_does_not_count(pack: Pack, gate_stats: GateStats) -> None:
    """A need that the entry itself loses, in the same sample, leaves the gate ready."""
    first, _ = _needs(pack)
    for entry in (
        _status_change(first, ItemStatus.OPEN, 1.0),
        _status_change(first, ItemStatus.MET, 5.0),
        GateCued(40.0, GATE, 0, 2, 2, 0),
        _status_change(first, ItemStatus.LOST, 50.0),
        GateEntered(50.0, GATE, 0, 2, 1, 0, 0),
    ):
        gate_stats.fold(entry)
    assert gate_stats.passages[0].ready_s == 5.0


def test_readiness_counts_from_the_last_time_a_need_was_met(pack: Pack, gate_stats: GateStats) -> None:
    """If a need is lost and met again, readiness starts the second time."""
    first, _ = _needs(pack)
    for sim_s, status in (
        (1.0, ItemStatus.OPEN),
        (5.0, ItemStatus.MET),
        (20.0, ItemStatus.LOST),
        (30.0, ItemStatus.MET),
    ):
        gate_stats.fold(_status_change(first, status, sim_s))
    gate_stats.fold(GateCued(40.0, GATE, 0, 2, 2, 0))
    assert gate_stats.passages[0].ready_s == 30.0


def test_a_second_cue_before_the_entry_replaces_the_first(gate_stats: GateStats) -> None:
    """A gate with two cues before its entry is one passage, with the later cue."""
    gate_stats.fold(GateCued(40.0, GATE, 3, 2, 2, 0))
    gate_stats.fold(GateCued(70.0, GATE, 0, 2, 2, 0))
    assert [(each.cue_s, each.open_at_cue) for each in gate_stats.passages] == [(70.0, 0)]


def test_a_gate_passed_twice_gives_two_passages(gate_stats: GateStats) -> None:
    """Each passage is counted, in the order of the cues."""
    for sim_s, gate in ((10.0, GATE), (20.0, OTHER), (30.0, GATE)):
        gate_stats.fold(GateCued(sim_s, gate, 0, 2, 2, 0))
        gate_stats.fold(GateEntered(sim_s + 1, gate, 0, 2, 1, 0, 0))
    assert [(each.number, each.gate) for each in gate_stats.passages] == [(1, GATE), (2, OTHER), (3, GATE)]


def test_a_jump_back_of_the_clock_clears_the_cues(pack: Pack, gate_stats: GateStats) -> None:
    """After a jump back a cue starts a new passage, and readiness counts from the jump."""
    first, _ = _needs(pack)
    gate_stats.fold(_status_change(first, ItemStatus.OPEN, 100.0))
    gate_stats.fold(GateCued(110.0, GATE, 1, 2, 2, 0))
    gate_stats.fold(MonitorsReset(3.0, 1))
    gate_stats.fold(GateCued(10.0, GATE, 0, 2, 2, 0))
    assert [(each.cue_s, each.ready_s) for each in gate_stats.passages] == [(110.0, None), (10.0, 3.0)]


def test_an_entry_without_a_cue_gives_no_passage(gate_stats: GateStats) -> None:
    """An entry is ignored if its cue came before the listener was added."""
    assert gate_stats.fold(GateEntered(5.0, GATE, 0, 2, 1, 0, 0)) is None
    assert gate_stats.passages == []


def test_a_gate_with_only_doubts_was_ready(pack: Pack, gate_stats: GateStats) -> None:
    """A need that is not known any more is not open: the gate is ready since its last open need."""
    first, second = _needs(pack)
    for event in (
        _status_change(first, ItemStatus.OPEN, 1.0),
        _status_change(first, ItemStatus.MET, 5.0),
        _status_change(first, ItemStatus.UNKNOWN, 20.0),
        _status_change(second, ItemStatus.NO_DATA, 30.0),
        GateCued(40.0, GATE, 0, 2, 0, 0),
        GateEntered(50.0, GATE, 0, 2, 0, 0, 0),
    ):
        gate_stats.fold(event)
    assert (gate_stats.passages[0].ready_s, gate_stats.passages[0].spare_s) == (5.0, 45.0)
