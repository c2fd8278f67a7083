"""Tests of network faults: the requested share of each kind, and reproducible by seed."""

from __future__ import annotations

from itertools import pairwise

import pytest

from mock_sim.send import FaultInjector, NetworkFaults, parse_network_faults
from rules.faults import InputFaults

COUNT = 4000


def pieces(faults: NetworkFaults, seed: int = 1) -> tuple[list[tuple[float, bytes]], FaultInjector]:
    """Return the output for some thousand numbered datagrams, ten in a second."""
    injector = FaultInjector(faults, seed)
    out: list[tuple[float, bytes]] = []
    for number in range(COUNT):
        injector.add(number / 10, b"datagram %04d" % number)
        out += injector.due(number / 10)
    return out + injector.remaining(), injector


def numbers(out: list[tuple[float, bytes]]) -> list[int]:
    """The numbers of the datagrams as they came."""
    return [int(data[-4:]) for _, data in out]


def test_no_faults_change_nothing() -> None:
    """Every datagram arrives once, in order, at its time."""
    out, _ = pieces(NetworkFaults())
    assert out == [(number / 10, b"datagram %04d" % number) for number in range(COUNT)]


@pytest.mark.parametrize("kind", ["loss", "duplicate", "reorder", "corrupt", "truncate", "garbage"])
def test_each_kind_happens_in_its_share(kind: str) -> None:
    """With a share of 0.1, 8 to 12 of a hundred datagrams are affected, and the count agrees."""
    _, injector = pieces(NetworkFaults.model_validate({kind: 0.1}))
    assert 0.08 * COUNT < injector.counts[kind] < 0.12 * COUNT
    assert {other for other, count in injector.counts.items() if count} == {kind}


def test_loss_and_duplication_change_the_number() -> None:
    """Lost datagrams are missing, and duplicated ones arrive twice."""
    lost, first = pieces(NetworkFaults(loss=0.1))
    assert len(lost) == COUNT - first.counts["loss"]
    twice, second = pieces(NetworkFaults(duplicate=0.1))
    assert len(twice) == COUNT + second.counts["duplicate"]
    assert set(numbers(twice)) == set(range(COUNT))


def test_a_reordered_datagram_moves_by_one_and_is_not_lost() -> None:
    """Each delayed datagram arrives right after the next one."""
    out, injector = pieces(NetworkFaults(reorder=0.1))
    came = numbers(out)
    assert sorted(came) == list(range(COUNT))
    late = sum(after < before for before, after in pairwise(came))
    assert late == injector.counts["reorder"]


def test_broken_datagrams_differ_and_cut_ones_are_shorter() -> None:
    """As many datagrams are changed as the counts say; a changed one keeps its length, a cut one loses its end."""
    changed, first = pieces(NetworkFaults(corrupt=0.1))
    wrong = [data for number, (_, data) in enumerate(changed) if data != b"datagram %04d" % number]
    assert len(wrong) == first.counts["corrupt"]
    assert {len(data) for data in wrong} == {13}
    cut, second = pieces(NetworkFaults(truncate=0.1))
    short = [(number, data) for number, (_, data) in enumerate(cut) if len(data) < 13]
    assert len(short) == second.counts["truncate"]
    assert all((b"datagram %04d" % number).startswith(data) for number, data in short)


def test_garbage_comes_in_addition() -> None:
    """All datagrams of the sender arrive besides the garbage."""
    out, injector = pieces(NetworkFaults(garbage=0.1))
    assert len(out) == COUNT + injector.counts["garbage"]


def test_jitter_delays_but_not_beyond_its_bound() -> None:
    """Each datagram arrives between its time and the longest delay, in the order of arrival."""
    out, _ = pieces(NetworkFaults(jitter_s=0.5))
    assert [due_s for due_s, _ in out] == sorted(due_s for due_s, _ in out)
    delays = [due_s - number / 10 for (due_s, _), number in zip(out, numbers(out), strict=True)]
    assert 0 <= min(delays) < 0.02
    assert 0.48 < max(delays) <= 0.5


def test_a_stall_lets_everything_go_at_its_end() -> None:
    """In the last second of every ten no datagram arrives; then all of them arrive at once."""
    out, injector = pieces(NetworkFaults(stall_s=1, stall_every_s=10))
    assert sorted(numbers(out)) == list(range(COUNT))
    assert all(due_s % 10 < 9 for due_s, _ in out)
    assert sum(due_s == 10.0 for due_s, _ in out) == 11
    assert injector.counts["stall"] == pytest.approx(COUNT / 10, abs=2)


def test_the_same_seed_gives_the_same_datagrams() -> None:
    """The same seed gives the same datagrams; another gives others."""
    much = NetworkFaults(
        loss=0.1, duplicate=0.1, reorder=0.1, corrupt=0.1, truncate=0.1, garbage=0.1, jitter_s=0.3
    )
    assert pieces(much)[0] == pieces(much)[0]
    assert pieces(much)[0] != pieces(much, seed=2)[0]


def test_it_is_read_as_typed() -> None:
    """The text has pairs separated by commas; an empty text means no faults."""
    assert parse_network_faults("loss=0.05, jitter_s=0.2") == NetworkFaults(loss=0.05, jitter_s=0.2)
    assert parse_network_faults("") == NetworkFaults()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("los=0.1", r"unknown network fault los.*did you mean loss"),
        ("loss=2", r"^--network-faults: loss=2, expected 0 to 1$"),
        ("loss=nan", r"^--network-faults: loss=nan, expected 0 to 1$"),
        ("jitter_s=soon", r"^--network-faults: jitter_s=soon, expected 0 to 600$"),
        ("loss", r"^--network-faults: loss=, expected 0 to 1$"),
    ],
)
def test_impossible_faults_are_refused(text: str, message: str) -> None:
    """A misspelt kind and an impossible share each give a message."""
    with pytest.raises(InputFaults, match=f"(?s){message}"):
        parse_network_faults(text)
