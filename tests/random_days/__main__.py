"""Correct flights on random days: `python -m tests.random_days [KIND ...]` flies and judges them.

Without words it flies 1 000 normal flights, 100 of them whole sectors, and 200 on which something happens, on all cores.  With
`--results FILE` it stores each flight when it is judged; the same command goes on after those that the file has.
`--share 0.1` takes a tenth of the seeds, `--first 2000` begins with that seed.

Takes: words of the command line.  Gives: a table; the exit code is 1 where anything was found or told.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from itertools import islice
from multiprocessing import get_context
from pathlib import Path

from rich.console import Console

from tests.random_days.judged_day import DayResult, fly_day
from tests.random_days.kinds import LAID_OVER, NORMAL, OTHERWISE
from tests.random_days.laid_over import lay_over
from tests.random_days.results_file import Job, ResultsFile
from tests.random_days.results_table import WIDTH, table_of
from tests.shipped import shipped

LAID = "laid over"
LONG = (LAID, "whole sector", "go-around", "engine failure")
console = Console(width=WIDTH)


def jobs_of(share: float, first: int, words: Sequence[str]) -> list[Job]:
    """Kinds and seeds to fly, the longest flights first."""
    counts = {name: kind.count for name, kind in {**NORMAL, **OTHERWISE}.items()} | {LAID: LAID_OVER}
    wanted = [name for name in counts if not words or name in words]
    jobs = [(name, first + n) for name in wanted for n in range(max(1, round(counts[name] * share)))]
    return sorted(jobs, key=lambda job: (LONG.index(job[0]) if job[0] in LONG else len(LONG), job[1]))


def run_job(name: str, seed: int) -> list[DayResult]:
    """Fly one day; a flight that stops with an error is a false one."""
    try:
        return lay_over(seed) if name == LAID else [fly_day(name, seed)]
    except Exception as error:  # noqa: BLE001  it is shown in the table
        return [DayResult(name, seed, findings=1, false=[f"{type(error).__name__}: {error}"])]


def fly(jobs: Sequence[Job], workers: int) -> Iterator[tuple[Job, list[DayResult]]]:
    """Fly the jobs in processes that share the packs; give each with its results as it ends."""
    for pack in ("twin_jet", "trainer"):
        shipped(pack)  # before the fork: reading a pack takes longer than a flight
    with ProcessPoolExecutor(workers, mp_context=get_context("fork")) as pool:
        waiting = {pool.submit(run_job, *job): job for job in jobs}
        for done in as_completed(waiting):
            yield waiting[done], done.result()


def show(result: DayResult) -> None:
    """Print what was falsely found or told."""
    for sentence in result.false:
        console.print(f"{result.kind}, seed {result.seed}: {sentence}", markup=False, highlight=False)


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.random_days")
    parser.add_argument("--share", type=float, default=1.0, help="share of the seeds of each kind")
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument(
        "--results", type=Path, help="file of results; flights that it has are not flown again"
    )
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--most", type=int, help="fly at most so many now")
    parser.add_argument("kind", nargs="*", help=", ".join([*NORMAL, *OTHERWISE, LAID]))
    return parser.parse_args(arguments)


def main(arguments: Sequence[str]) -> int:
    """Fly, judge and print."""
    given, began_s = parse(arguments), time.monotonic()
    file, wanted = ResultsFile(given.results), jobs_of(given.share, given.first, given.kind)
    results = [result for job in wanted for result in file.known.get(job, ())]
    console.print(f"{len(results)} flights known, {file.outdated} of other code.", highlight=False)
    waiting = list(islice((job for job in wanted if job not in file.known), given.most))
    for number, (job, new) in enumerate(fly(waiting, given.workers), 1):
        file.append(job, new)
        results += new
        for result in new:
            show(result)
        if number % 50 == 0:
            left_s = (time.monotonic() - began_s) / number * (len(waiting) - number)
            console.print(f"{number} of {len(waiting)}, about {left_s / 60.0:.0f} min left", highlight=False)
    console.print(table_of(results))
    false = sum(bool(result.false) for result in results)
    took_s = time.monotonic() - began_s
    console.print(
        f"{len(results)} flights, {false} with a false notice or finding; {took_s:.0f} s.", highlight=False
    )
    return 1 if false else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
