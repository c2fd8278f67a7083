"""Correct flights on random days: `python -m tests.random_days [KIND ...]` flies and judges them.

`--share 0.1` takes a tenth of the seeds, `--first 2000` begins with that seed.  Without words it flies 1 000 normal flights, 100 of them whole sectors, and 200 on which something happens, on all cores.

Takes: words of the command line.  Gives: a table; the exit code is 1 where anything was found or told.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from tests.random_days.judged_day import DayResult, fly_day
from tests.random_days.kinds import LAID_OVER, NORMAL, OTHERWISE
from tests.random_days.laid_over import lay_over

LAID = "laid over"
WIDTH = 120
console = Console(width=WIDTH)


def jobs_of(share: float, first: int, words: Sequence[str]) -> list[tuple[str, int]]:
    """Kinds and seeds to fly, the longest flights first."""
    counts = {name: kind.count for name, kind in {**NORMAL, **OTHERWISE}.items()} | {LAID: LAID_OVER}
    wanted = [name for name in counts if not words or name in words]
    jobs = [(name, first + n) for name in wanted for n in range(max(1, round(counts[name] * share)))]
    return sorted(
        jobs,
        key=lambda job: (
            job[0] != LAID,
            job[0] not in ("whole sector", "go-around", "engine failure"),
            job[1],
        ),
    )


def run_job(name: str, seed: int) -> list[DayResult]:
    """Fly one day; a flight that stops with an error is a false one."""
    try:
        return lay_over(seed) if name == LAID else [fly_day(name, seed)]
    except Exception as error:  # noqa: BLE001  it is shown in the table
        return [DayResult(name, seed, false=[f"{type(error).__name__}: {error}"])]


def main(arguments: Sequence[str]) -> int:
    """Fly, judge and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.random_days")
    parser.add_argument("--share", type=float, default=1.0, help="share of the seeds of each kind")
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("kind", nargs="*", help=", ".join([*NORMAL, *OTHERWISE, LAID]))
    given = parser.parse_args(arguments)
    began_s, results = time.monotonic(), list[DayResult]()
    with ProcessPoolExecutor() as pool:
        jobs = [pool.submit(run_job, *job) for job in jobs_of(given.share, given.first, given.kind)]
        for job in as_completed(jobs):
            results += job.result()
            for result in job.result():
                for sentence in result.false:
                    console.print(
                        f"{result.kind}, seed {result.seed}: {sentence}", markup=False, highlight=False
                    )
    console.print(table_of(results))
    false = [result for result in results if result.false]
    console.print(
        f"{len(results)} flights, {len(false)} with a false notice; {time.monotonic() - began_s:.0f} s on {os.cpu_count()} cores."
    )
    return 1 if false else 0


def table_of(results: Iterable[DayResult]) -> Table:
    """One row for each kind."""
    table = Table(
        "kind",
        "flights",
        "seeds",
        "gates",
        "needs",
        "judged",
        "not verifiable",
        "false",
        "s each",
        box=SIMPLE_HEAD,
    )
    by_kind: dict[str, list[DayResult]] = {}
    for result in results:
        by_kind.setdefault(result.kind, []).append(result)
    order = [*NORMAL, *OTHERWISE]
    for kind in sorted(by_kind, key=lambda name: (order.index(name) if name in order else len(order), name)):
        these = by_kind[kind]
        seeds = sorted(result.seed for result in these)
        needs = sum(result.needs for result in these)
        judged = f"{sum(result.judged for result in these) / needs:.1%}" if needs else ""
        counts = [
            sum(r.gates for r in these),
            needs,
            judged,
            sum(r.doubts for r in these),
            sum(bool(r.false) for r in these),
        ]
        mean_s = sum(result.took_s for result in these) / len(these)
        table.add_row(kind, str(len(these)), f"{seeds[0]} to {seeds[-1]}", *map(str, counts), f"{mean_s:.1f}")
    return table


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
