"""Clean flights over a bad network give no notices; few seeds here, 20 of each by `python -m tests.false_alarms`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor

import pytest

from tests.false_alarms.simulated_flight import BAD_NETWORK, GOOD_NETWORK, RATE_HZ, FlightResult, fly

FLIGHTS = [
    *((scenario, seed, RATE_HZ) for scenario in ("departure", "circuit") for seed in (1, 2)),
    # Here the pilot holds the test of the lights for long.
    ("circuit", 18, RATE_HZ),
    # A whole sector at 20 Hz takes more than a minute of one core.
    *(("sector", seed, 4.0) for seed in (1, 2)),
]
LAST = {"departure": "takeoff", "sector": "dark", "circuit": "secured"}


@pytest.fixture(scope="module")
def flown() -> Iterator[Mapping[tuple[str, int], FlightResult]]:
    """All flights, run in parallel on the available cores."""
    with ProcessPoolExecutor() as pool:
        jobs = {(name, seed): pool.submit(fly, name, seed, rate_hz=rate) for name, seed, rate in FLIGHTS}
        yield {key: job.result() for key, job in jobs.items()}


@pytest.mark.parametrize(("scenario", "seed"), [flight[:2] for flight in FLIGHTS])
def test_a_clean_flight_is_silent(
    flown: Mapping[tuple[str, int], FlightResult], scenario: str, seed: int
) -> None:
    """With 5 % of the frames lost, the rest delayed and out of order, and noise, there is no caution and no error; a doubt is none."""
    seen = flown[scenario, seed]
    assert seen.caution_sentences == []
    assert seen.errors == {}


@pytest.mark.parametrize(("scenario", "seed"), [flight[:2] for flight in FLIGHTS])
def test_the_network_was_bad(flown: Mapping[tuple[str, int], FlightResult], scenario: str, seed: int) -> None:
    """The flight was judged to its last gate, from fewer frames than were sent, about 5 % of them lost."""
    seen = flown[scenario, seed]
    assert seen.gates[-1] == LAST[scenario]
    assert seen.network_faults["loss"] == pytest.approx(0.05 * seen.sent, rel=0.25)
    assert seen.judged <= seen.sent - seen.network_faults["loss"]


@pytest.mark.parametrize("scenario", ["departure", "circuit"])
def test_frames_overtake_each_other(flown: Mapping[tuple[str, int], FlightResult], scenario: str) -> None:
    """At 20 Hz the delay reorders frames; those that are too late are not judged, most are."""
    seen = flown[scenario, 1]
    arrived = seen.sent - seen.network_faults["loss"]
    assert 0.8 * arrived < seen.judged < arrived


def test_a_slip_is_found_over_the_bad_network() -> None:
    """The same setup finds a slip over the bad network too."""
    good, bad = (
        fly("departure", 1, ["brake_released_early"], rate_hz=5.0, network_faults=m)
        for m in (GOOD_NETWORK, BAD_NETWORK)
    )
    assert bad.errors == good.errors != {}
