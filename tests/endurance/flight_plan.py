"""Chooses one flight after the other: sectors and circuits by turns, with the slips of the catalogues and network faults.

Takes: a seed.  Gives: `PlannedFlight`s without end.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import NamedTuple

from mock_sim.run import Flight
from mock_sim.send.network_faults import NetworkFaults
from tests.false_alarms.simulated_flight import PACKS

DEVICES = {"piston": PACKS["circuit"], "jet": PACKS["sector"]}
"""The simulators of the watch, each with its pack."""
SCENARIOS = {"piston": "circuit", "jet": "sector"}


class PlannedFlight(NamedTuple):
    """A flight of a device: its scenario, slip ('' for none), seed, network, and whether a new session begins before it."""

    device: str
    scenario: str
    slip: str
    seed: int
    network: NetworkFaults
    new_session: bool


def plan_flights(seed: int) -> Iterator[PlannedFlight]:
    """Give one flight after the other; each third of a device has no slip, each second begins a session."""
    random = Random(seed)
    catalogues = {
        device: sorted(slip.id for slip in Flight(scenario).scenario.slips)
        for device, scenario in SCENARIOS.items()
    }
    number = 0
    while True:
        device = list(SCENARIOS)[number % 2]
        turn, catalogue = number // 2, catalogues[device]
        slip = catalogue[(turn * 7) % len(catalogue)] if turn % 3 != 2 else ""
        yield PlannedFlight(
            device, SCENARIOS[device], slip, seed + number, random_network(random), new_session=turn % 2 == 0
        )
        number += 1


def random_network(random: Random) -> NetworkFaults:
    """Draw the faults of one flight's network; each kind comes in half of the flights."""

    def rate(most: float) -> float:
        return round(random.uniform(0.0, most), 4) if random.random() < 0.5 else 0.0

    return NetworkFaults(
        loss=rate(0.05), duplicate=rate(0.02), reorder=rate(0.05), corrupt=rate(0.01), truncate=rate(0.01),
        garbage=rate(0.01), jitter_s=rate(0.3), stall_s=rate(1.5), stall_every_s=60.0,
    )  # fmt: skip
