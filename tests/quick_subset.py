"""Quick subset of the tests, `pytest --quick`: all tests but those in `long_tests.txt`.

    python -m pytest --junit-xml=all.xml                measures all tests
    python -m pytest --quick --junit-xml=quick.xml      measures the subset alone, which prepares more by itself
    python -m tests.quick_subset all.xml quick.xml      writes `long_tests.txt` anew

A line of the list is a file, relative to `tests`, or `FILE::TEST`: where all files of a package are long, only the long
tests of its quickest file are left out, so that each package has tests in the subset.  The longest file comes first: a run
of all tests takes the files in this order.

Takes: JUnit files of runs.  Gives: `long_tests.txt`.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

HERE = Path(__file__).parent
LIST = HERE / "long_tests.txt"
MAX_FILE_S = 2.0
"""Longest time of all tests of one file in the subset; with it the whole subset ends in 90 s on two cores."""
MAX_TEST_S = 1.0
"""Longest time of one test function, in a file of which only the long tests are left out."""

TestTimes = dict[str, dict[str, float]]
"""Seconds of each test function by file."""


@cache
def long_tests() -> tuple[frozenset[Path], frozenset[tuple[Path, str]]]:
    """Give the files that are not in the subset, and the test functions of other files."""
    lines = [line.partition("::") for line in LIST.read_text(encoding="utf-8").splitlines()]
    return (
        frozenset(HERE / file for file, _, test in lines if not test),
        frozenset((HERE / file, test) for file, _, test in lines if test),
    )


@cache
def file_ranks() -> dict[Path, int]:
    """Give the place of each file of the list, 0 for the longest."""
    files = (HERE / line.partition("::")[0] for line in LIST.read_text(encoding="utf-8").splitlines())
    return {file: rank for rank, file in enumerate(dict.fromkeys(files))}


def measured_times(runs: Iterable[Path]) -> TestTimes:
    """Give the time of each test function with all its cases, the longest of several runs.

    Args:
        runs: JUnit files; they name a test's module, and its class if it has one.
    """
    longest: TestTimes = defaultdict(dict)
    for run in runs:
        times: TestTimes = defaultdict(lambda: defaultdict(float))
        for case in ET.parse(run).getroot().iter("testcase"):  # noqa: S314 - our own file
            name, test = case.get("classname", ""), case.get("name", "").partition("[")[0]
            module = name if _path_of(name).is_file() else name.rpartition(".")[0]
            times[_path_of(module).relative_to(HERE).as_posix()][test] += float(case.get("time", "0"))
        for file, tests in times.items():
            for test, seconds in tests.items():
                longest[file][test] = max(seconds, longest[file].get(test, 0.0))
    return longest


def choose_long(times: Mapping[str, Mapping[str, float]]) -> list[str]:
    """Give the lines of the list for these times, those of the longest file first."""
    long_files = {file for file, tests in times.items() if sum(tests.values()) > MAX_FILE_S}
    lines = set(long_files)
    folders = {
        Path(file).parent for file in times if (HERE.parent / file).parent.joinpath("__init__.py").is_file()
    }
    for folder in folders:
        files = [file for file in times if Path(file).is_relative_to(folder)]
        if long_files.issuperset(files):
            quickest = min(files, key=lambda file: sum(times[file].values()))
            lines.discard(quickest)
            lines |= {
                f"{quickest}::{test}" for test in times[quickest].keys() - _quick_tests(times[quickest])
            }
    return sorted(lines, key=lambda line: (-sum(times[line.partition("::")[0]].values()), line))


def _quick_tests(tests: Mapping[str, float]) -> set[str]:
    """Give the tests that are not long; if all of them are, the one that takes the least time."""
    return {test for test, seconds in tests.items() if seconds <= MAX_TEST_S} or {
        min(tests, key=tests.__getitem__)
    }


def _path_of(module: str) -> Path:
    return HERE.parent / f"{module.replace('.', '/')}.py"


if __name__ == "__main__":
    chosen = choose_long(measured_times(Path(run) for run in sys.argv[1:]))
    LIST.write_text("\n".join(chosen) + "\n", encoding="utf-8")
