"""Long runs: `python -m tests.false_alarms [SCENARIO ...]` flies 20 clean flights of each class and counts.

`python -m tests.false_alarms slips [SCENARIO ...]` flies every slip of the catalogues by itself, and compares its
findings with `expected.yaml`.  Both use all cores.

Takes: words of the command line.  Gives: a table; the exit code is 1 where a run differs from what is expected.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed

from rich.console import Console
from rich.table import Table

from mock_sim.run import Flight
from tests.false_alarms.expected_findings import load_expected
from tests.false_alarms.simulated_flight import BAD_NETWORK, GOOD_NETWORK, PACKS, RATE_HZ, FlightResult, fly

SEEDS = range(1, 21)
SLIP_RATE_HZ = 5.0
WIDTH = 100
console = Console(width=WIDTH)


def fly_clean(scenario: str, seed: int) -> FlightResult:
    """One clean flight over a bad network."""
    return fly(scenario, seed, network_faults=BAD_NETWORK)


def fly_with_slip(scenario: str, slip: str) -> FlightResult:
    """One flight with one slip, over a good network."""
    return fly(scenario, 1, [slip], rate_hz=SLIP_RATE_HZ, network_faults=GOOD_NETWORK)


def run_clean(scenarios: Sequence[str]) -> bool:
    """Fly all seeds of some scenarios; True if there was no notice and no finding."""
    began_s, flights = time.monotonic(), dict[str, list[FlightResult]]()
    with ProcessPoolExecutor() as pool:
        jobs = [pool.submit(fly_clean, scenario, seed) for scenario in scenarios for seed in SEEDS]
        for seen in _each(jobs):
            flights.setdefault(seen.scenario, []).append(seen)
            for sentence in [*seen.caution_sentences, *seen.sentences]:
                console.print(f"{seen.scenario}, seed {seen.seed}: {sentence}")
    table = Table(
        "flight", "seeds", "frames sent", "lost", "judged", "advisory", "caution", "warning", "findings"
    )
    for scenario, all_seen in flights.items():
        levels = sum((seen.levels for seen in all_seen), Counter[str]())
        lost = sum(seen.network_faults["loss"] for seen in all_seen)
        counts = [len(all_seen), sum(s.sent for s in all_seen), lost, sum(s.judged for s in all_seen)]
        by_level = [levels[level] for level in ("advisory", "caution", "warning")]
        table.add_row(scenario, *map(str, [*counts, *by_level, sum(len(s.errors) for s in all_seen)]))
    console.print(table)
    console.print(
        f"{RATE_HZ:g} Hz, {BAD_NETWORK.loss:.0%} lost, up to {BAD_NETWORK.jitter_s * 1000:g} ms late; ",
        end="",
    )
    console.print(f"{time.monotonic() - began_s:.0f} s on {os.cpu_count()} cores.")
    return not any(
        seen.caution_sentences or seen.errors for all_seen in flights.values() for seen in all_seen
    )


def run_slips(scenarios: Sequence[str]) -> bool:
    """Fly every slip alone; True if each gave exactly its expected findings."""
    began_s, expected, wrong = time.monotonic(), load_expected(), 0
    table = Table("flight", "slip", "found", "as expected")
    with ProcessPoolExecutor() as pool:
        jobs = {pool.submit(fly_with_slip, s, slip): (s, slip) for s in scenarios for slip in catalogue(s)}
        for job in as_completed(jobs):
            (scenario, slip), seen = jobs[job], job.result()
            must = expected.get(scenario, {}).get(slip, {})
            wrong += must != seen.found
            found = ", ".join(f"{item}: {' and '.join(kinds)}" for item, kinds in seen.found.items())
            table.add_row(scenario, slip, found or "nothing", "yes" if must == seen.found else "NO")
    console.print(table)
    console.print(
        f"{wrong} slips not as expected; {time.monotonic() - began_s:.0f} s on {os.cpu_count()} cores."
    )
    return wrong == 0


def catalogue(scenario: str) -> list[str]:
    """Slips of a scenario; those of another scenario are flown there."""
    slips = [slip.id for slip in Flight(scenario).scenario.slips]
    if scenario != "sector":
        return slips
    return [slip for slip in slips if slip not in catalogue("departure")]


def _each(jobs: Sequence[Future[FlightResult]]) -> Iterator[FlightResult]:
    """Results of the jobs, as they finish."""
    for job in as_completed(jobs):
        yield job.result()


if __name__ == "__main__":
    words = sys.argv[1:]
    run, named = (run_slips, words[1:]) if words[:1] == ["slips"] else (run_clean, words)
    sys.exit(not run(named or list(PACKS)))
