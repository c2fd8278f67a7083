"""Assertions that hold on every correct flight of any aeroplane.

Takes: a watched flight.  Gives: assertions.
"""

from __future__ import annotations

from tests.real.watched_flight import WatchedFlight


def assert_received_complete(flight: WatchedFlight) -> None:
    """Every row was read, and nothing in it was strange to the map."""
    health = flight.health
    assert health.frames > 2000
    assert health.frames == health.records - health.headings - sum(health.rejects.values())
    assert not health.rejects
    assert health.mapping.invalid == 0
    assert not health.mapping.unknown_fields
    assert not health.missing_fields


def assert_quiet(flight: WatchedFlight) -> None:
    """Nothing was found and nothing above an advisory was told."""
    assert [finding.sentence for finding in flight.findings] == []
    assert [notice.sentence for notice in flight.cautions_and_warnings] == []


def assert_no_data_stays_no_data(flight: WatchedFlight, *, at_least: int) -> None:
    """An item none of whose signals the model has is "no data" from first to last, never met."""
    mapped = {field.signal for field in flight.map_file.plan.fields}
    signals = {
        item.id: {s for s in item.signals if not s.startswith(("trip.", "figure."))}
        for item in flight.pack.items.values()
    }
    blind = {item for item, names in signals.items() if names and names.isdisjoint(mapped)}
    lives = flight.final_lives()
    assert len(blind) >= at_least
    assert {item: lives[item] for item in blind if item in lives and lives[item] != "no data"} == {}
    assert blind.isdisjoint(flight.items_ever_met())
