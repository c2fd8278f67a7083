"""Passages of gates: readiness, cues, entries."""

from __future__ import annotations

import pytest

from bridge.session.gate_stats import GateStats
from rules.judge.events import GateCued, GateEntered, ItemStatus, MonitorsReset, Verdict, VerdictChanged
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack

GATE, OTHER = "push_back", "engine_start"


@pytest.fixture(scope="module")
def pack() -> Pack:
    """The shipped pack."""
    return load_pack("twin_jet")


@pytest.fixture
def passages(pack: Pack) -> GateStats:
    """Nothing told yet."""
    return GateStats(pack)


def _needs(pack: Pack) -> tuple[str, str]:
    first, second, *_ = next(gate for gate in pack.gates if gate.id == GATE).needs
    return first, second


def _is(item: str, life: ItemStatus, sim_s: float) -> VerdictChanged:
    return VerdictChanged(sim_s, item, Verdict.UNKNOWN, life, "", "", "")


def test_ready_is_since_the_last_need_was_met(pack: Pack, passages: GateStats) -> None:
    """A gate is ready since the last of its needs was met, and its spare time is counted from then."""
    first, second = _needs(pack)
    for entry in (
        _is(first, ItemStatus.OPEN, 1.0),
        _is(second, ItemStatus.OPEN, 1.0),
        _is(first, ItemStatus.MET, 5.0),
        _is(second, ItemStatus.WAIVED, 30.0),
        GateCued(40.0, GATE, 0),
        GateEntered(100.0, GATE, 0),
    ):
        passages.fold(entry)
    (passage,) = passages.passages
    assert (passage.number, passage.cue_s, passage.entered_s, passage.ready_s) == (1, 40.0, 100.0, 30.0)
    assert passage.spare_s == 70.0
    assert passage.needs > 50


def test_what_is_open_is_not_ready(pack: Pack, passages: GateStats) -> None:
    """A gate that is entered with something open was never ready."""
    first, _ = _needs(pack)
    passages.fold(_is(first, ItemStatus.OPEN, 1.0))
    cued = passages.fold(GateCued(40.0, GATE, 1))
    assert cued is not None
    assert (cued.open_at_cue, cued.ready_s) == (1, None)
    entered = passages.fold(GateEntered(50.0, GATE, 1))
    assert entered is not None
    assert (entered.carried, entered.ready_s, entered.spare_s) == (1, None, None)


def test_lost_in_the_sample_of_the_entry_still_counts(pack: Pack, passages: GateStats) -> None:
    """What is lost by the entry itself, in the same sample, does not make the gate unready."""
    first, _ = _needs(pack)
    for entry in (
        _is(first, ItemStatus.OPEN, 1.0),
        _is(first, ItemStatus.MET, 5.0),
        GateCued(40.0, GATE, 0),
        _is(first, ItemStatus.LOST, 50.0),
        GateEntered(50.0, GATE, 0),
    ):
        passages.fold(entry)
    assert passages.passages[0].ready_s == 5.0


def test_lost_and_met_again_counts_from_the_second_time(pack: Pack, passages: GateStats) -> None:
    """A need that was undone and done again makes the gate ready since the second time."""
    first, _ = _needs(pack)
    for sim_s, life in (
        (1.0, ItemStatus.OPEN),
        (5.0, ItemStatus.MET),
        (20.0, ItemStatus.LOST),
        (30.0, ItemStatus.MET),
    ):
        passages.fold(_is(first, life, sim_s))
    passages.fold(GateCued(40.0, GATE, 0))
    assert passages.passages[0].ready_s == 30.0


def test_a_second_cue_before_the_entry_replaces_the_first(passages: GateStats) -> None:
    """A gate that is cued twice before it is entered is one passage, with the later cue."""
    passages.fold(GateCued(40.0, GATE, 3))
    passages.fold(GateCued(70.0, GATE, 0))
    assert [(p.cue_s, p.open_at_cue) for p in passages.passages] == [(70.0, 0)]


def test_a_gate_passed_twice_is_two_passages(passages: GateStats) -> None:
    """Each time that a gate is passed counts for itself, in the order of the cues."""
    for sim_s, gate in ((10.0, GATE), (20.0, OTHER), (30.0, GATE)):
        passages.fold(GateCued(sim_s, gate, 0))
        passages.fold(GateEntered(sim_s + 1, gate, 0))
    assert [(p.number, p.gate) for p in passages.passages] == [(1, GATE), (2, OTHER), (3, GATE)]


def test_a_jump_back_forgets_what_was_cued(pack: Pack, passages: GateStats) -> None:
    """After the clock jumped back a cue begins a new passage, and readiness counts from the jump."""
    first, _ = _needs(pack)
    passages.fold(_is(first, ItemStatus.OPEN, 100.0))
    passages.fold(GateCued(110.0, GATE, 1))
    passages.fold(MonitorsReset(3.0, 1))
    passages.fold(GateCued(10.0, GATE, 0))
    assert [(p.cue_s, p.ready_s) for p in passages.passages] == [(110.0, None), (10.0, 3.0)]


def test_an_entry_without_a_cue_is_nothing(passages: GateStats) -> None:
    """An entry whose cue came before the listener was added gives no passage."""
    assert passages.fold(GateEntered(5.0, GATE, 0)) is None
    assert passages.passages == []
