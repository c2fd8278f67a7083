"""The parts of a whole watch: every part is measured, and the sums are those of the parts."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.bench import whole_watch


def test_every_part_has_a_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    """Peers and parts are listed in their order; each total is the one before and the part, and the last line has the aim."""
    monkeypatch.setattr(whole_watch, "DEVICES", 2)
    peers, parts = whole_watch.whole_watch(0.5)
    assert [part.part for part in peers] == ["struct alone", "hand-written Python alone"]
    assert [part.part for part in parts] == [
        "decode",
        "map",
        "fold",
        "judge",
        *whole_watch.WatchParts.names,
        *whole_watch.WatchParts.clients,
    ]
    assert all(part.us > 0 for part in (*peers, parts[0]))
    clients = len(whole_watch.WatchParts.clients)
    for earlier, part in pairwise(parts[:-clients]):
        assert part.total_us == pytest.approx(earlier.total_us + part.us)
    for part in parts[-clients:]:
        assert part.total_us == pytest.approx(parts[-clients - 1].total_us + part.us)


def test_the_table_names_the_aim() -> None:
    """The last lines say whether the aim is met, by the run that has everything but a page."""
    costs = [whole_watch.PartCost("decode", 100.0, 100.0), whole_watch.PartCost("publish", 249.0, 349.0)]
    table = list(whole_watch.table_lines([], costs))
    assert table[-2] == "all in without a page: 349 us, aim < 350 us: met"
    assert table[-1] == "devices at 20 Hz on one core: 143, aim 100"
    costs[-1] = whole_watch.PartCost("publish", 251.0, 351.0)
    assert table_is_not_met(costs)


def table_is_not_met(costs: list[whole_watch.PartCost]) -> bool:
    """True where the table says that the aim is not met."""
    return any(line.endswith("NOT MET") for line in whole_watch.table_lines([], costs))
