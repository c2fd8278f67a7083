"""Fuzzes targets for some seconds each, keeps what was found, and prints a table.

`python -m tests.fuzz [TARGET ...] [--seconds 20] [--jobs 2] [--keep]`.  Without targets: all of them.  A crash, an input
that takes more than 5 s or more than 1 GB is written to `tests/fuzz/cases/` and ends the command with 1; from then on every
test run repeats it.  `--keep` adds inputs that reached new code to the corpus.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.fuzz.all_targets import TARGETS
from tests.fuzz.corpus import CASES, CORPUS, read_folder, read_inputs, save_corpus, unpack, write_inputs

SLOWEST_S = 5
MAX_MEMORY_MB = 1024
START_S = 120
"""Seconds that a process may take to import everything with coverage, beside its own time."""


@dataclass(frozen=True, slots=True)
class FuzzResult:
    """What one run found.

    Attributes:
        target: Its name.
        executions: Inputs that were run.
        covered: Edges of our code that they reached.
        cases: Inputs that are defects.
        last_words: The end of what the engine wrote.
    """

    target: str
    executions: int
    covered: int
    cases: tuple[bytes, ...]
    last_words: str


def main() -> int:
    """Run the targets of the command line."""
    options = _options()
    run = partial(fuzz, seconds=options.seconds, keep=options.keep)
    with ThreadPoolExecutor(options.jobs) as pool:
        results = list(pool.map(run, options.targets or TARGETS))
    sys.stdout.write(f"{'target':24}{'inputs run':>12}{'code edges':>12}{'defects':>9}\n")
    for result in results:
        sys.stdout.write(
            f"{result.target:24}{result.executions:12}{result.covered:12}{len(result.cases):9}\n"
        )
    wrong = [result for result in results if result.cases or not result.executions]
    for result in wrong:
        sys.stdout.write(f"\n{result.target}:\n{result.last_words}\n")
    return 1 if wrong else 0


def fuzz(target: str, *, seconds: int, keep: bool) -> FuzzResult:
    """Run one target in a process of its own, beginning with its seeds, its corpus and its cases."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        known = [*TARGETS[target].seeds(), *read_inputs(CORPUS, target), *read_inputs(CASES, target)]
        corpus, found = unpack(known, folder / "corpus"), unpack((), folder / "found")
        limits = [f"-timeout={SLOWEST_S}", f"-rss_limit_mb={MAX_MEMORY_MB}", f"-max_total_time={seconds}"]
        ended = _engine(
            target, [corpus, *limits, f"-artifact_prefix={found}/", "-print_final_stats=1"], seconds
        )
        cases = tuple(read_folder(found))
        if cases:
            write_inputs(CASES, target, [*read_inputs(CASES, target), *cases])
        if keep:
            save_corpus(target, set(read_folder(corpus)) - set(TARGETS[target].seeds()) - set(cases))
        return _result(target, ended, cases)


def _engine(target: str, arguments: list[str | Path], seconds: int) -> str:
    """Run the engine and give what it wrote."""
    line = [sys.executable, "-m", "tests.fuzz.engine", target, *map(str, arguments)]
    ended = subprocess.run(
        line, capture_output=True, text=True, errors="replace", timeout=seconds * 3 + START_S, check=False
    )
    return ended.stdout + ended.stderr


def _result(target: str, written: str, cases: tuple[bytes, ...]) -> FuzzResult:
    ran = re.findall(r"stat::number_of_executed_units: (\d+)", written) or re.findall(r"#(\d+)\s", written)
    covered = re.findall(r"cov: (\d+)", written)
    return FuzzResult(
        target,
        int(ran[-1]) if ran else 0,
        int(covered[-1]) if covered else 0,
        cases,
        "\n".join(written.splitlines()[-40:]),
    )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.fuzz", description="Fuzz what comes in from outside."
    )
    parser.add_argument(
        "targets", nargs="*", choices=[*TARGETS, []], metavar="TARGET", help=", ".join(TARGETS)
    )
    parser.add_argument("--seconds", type=int, default=20, help="of each target; 20 where it is not given")
    parser.add_argument("--jobs", type=int, default=2, help="targets at one time; 2 where it is not given")
    parser.add_argument("--keep", action="store_true", help="add what reached new code to the corpus")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
