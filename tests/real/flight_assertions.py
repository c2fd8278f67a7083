"""Assertions on every correct flight of any aeroplane.

Takes: a watched flight.  Gives: assertions.
"""

from __future__ import annotations

from tests.real.watched_flight import WatchedFlight


def assert_received_complete(flight: WatchedFlight) -> None:
    """Check that every row was decoded and the map knew everything in it."""
    health = flight.health
    assert health.frames > 2000
    assert health.frames == health.records - health.headings - sum(health.rejects.values())
    assert not health.rejects
    assert health.mapping.invalid == 0
    assert not health.mapping.unknown_fields
    assert not health.missing_fields


def assert_quiet(flight: WatchedFlight) -> None:
    """Check that there is no finding and no notice above an advisory."""
    assert [finding.sentence for finding in flight.findings] == []
    assert [notice.sentence for notice in flight.cautions_and_warnings] == []


def assert_no_data_stays_no_data(flight: WatchedFlight, *, at_least: int) -> None:
    """Check that an item without any signal in the model is "no data" throughout and never met."""
    mapped = {field.signal for field in flight.map_file.plan.fields}
    signals = {
        item.id: {s for s in item.signals if not s.startswith(("trip.", "figure."))}
        for item in flight.pack.items.values()
    }
    without_signals = {item for item, names in signals.items() if names and names.isdisjoint(mapped)}
    statuses = flight.final_statuses()
    assert len(without_signals) >= at_least
    assert {
        item: statuses[item] for item in without_signals if item in statuses and statuses[item] != "no data"
    } == {}
    assert without_signals.isdisjoint(flight.items_ever_met())
