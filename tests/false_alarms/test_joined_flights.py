"""A clean flight that is joined on its way gives no errors: an unseen event is not verifiable at most."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor

import pytest

from tests.false_alarms.simulated_flight import GOOD_NETWORK, FlightResult, fly

DOUBTS = {
    40: {"flow.power_up.fire_test"},
    212: {"flow.power_up.fire_test"},
    320: set[str](),
    520: set[str](),
    640: {"flow.before_taxi.elevator", "flow.before_taxi.aileron", "flow.before_taxi.rudder"},
    815: {"flow.before_taxi.elevator", "flow.before_taxi.aileron", "flow.before_taxi.rudder"},
}
"""For each time of the join in seconds: the items that nobody can verify, as they were done before it."""


@pytest.fixture(scope="module")
def flown() -> Iterator[Mapping[int, FlightResult]]:
    """The departure, joined at each of the times."""
    with ProcessPoolExecutor() as pool:
        jobs = {
            at_s: pool.submit(
                fly, "departure", rate_hz=4.0, network_faults=GOOD_NETWORK, joined_s=float(at_s)
            )
            for at_s in DOUBTS
        }
        yield {at_s: job.result() for at_s, job in jobs.items()}


@pytest.mark.parametrize("at_s", DOUBTS)
def test_a_joined_flight_accuses_nobody(flown: Mapping[int, FlightResult], at_s: int) -> None:
    """Only the items that were done before the join are found, as not verifiable, and no caution is given."""
    seen = flown[at_s]
    assert seen.found == {item: ["not_verifiable"] for item in DOUBTS[at_s]}
    assert seen.caution_sentences == []
    assert seen.gates[-1] == "takeoff"
