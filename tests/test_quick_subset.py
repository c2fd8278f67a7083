"""Tests of tests.quick_subset: every package has tests in it, and its list names files that exist."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.quick_subset import HERE, choose_long, long_tests, measured_times

TOP = HERE.parent
PACKAGES = sorted(
    init.parent.relative_to(TOP)
    for root in ("adapters", "bridge", "mock_sim", "rules")
    for init in (TOP / root).rglob("__init__.py")
)


def files_of(package: Path) -> list[Path]:
    """Give the test files of a package, or where it has no folder of its own, of the package around it."""
    found = sorted((HERE / package).rglob("test_*.py"))
    return found or files_of(package.parent)


@pytest.mark.parametrize("package", PACKAGES, ids=str)
def test_every_package_has_a_test_in_the_quick_subset(package: Path) -> None:
    """`--quick` runs at least one test file of each package."""
    assert [file for file in files_of(package) if file not in long_tests()[0]]


def test_the_list_names_existing_tests() -> None:
    """A file or test that was renamed or removed is not in the list."""
    files, tests = long_tests()
    assert [str(file) for file in files if not file.is_file()] == []
    assert [str(file) for file, test in tests if f"def {test}(" not in file.read_text(encoding="utf-8")] == []


def test_the_option_leaves_out_long_files_and_tests() -> None:
    """`--quick` collects neither a long file nor a long test, and all others."""
    long_file = HERE / "rules" / "language" / "online" / "test_monitors.py"
    file, test = max(long_tests()[1])
    assert long_file in long_tests()[0]
    words = ["-m", "pytest", "--collect-only", "-q", "-p", "no:cacheprovider"]
    words += [str(long_file.parent), str(file.parent)]
    collected = {
        option: subprocess.run(
            [sys.executable, *words, option], cwd=TOP, capture_output=True, text=True, check=True
        ).stdout
        for option in ("--quick", "--strict-config")
    }
    assert f"::{test}" in collected["--strict-config"]
    assert long_file.name in collected["--strict-config"]
    assert f"::{test}" not in collected["--quick"]
    assert long_file.name not in collected["--quick"]
    assert f"{file.name}::" in collected["--quick"]


def test_times_are_added_by_file(tmp_path: Path) -> None:
    """Cases of a test and tests of a class count together; of several runs the longest counts."""
    runs = [tmp_path / "a.xml", tmp_path / "b.xml"]
    for run, seconds in zip(runs, (1.5, 0.5), strict=True):
        run.write_text(
            "<testsuites><testsuite>"
            f'<testcase classname="tests.test_quick_subset" name="test_a[1]" time="{seconds}"/>'
            f'<testcase classname="tests.test_quick_subset" name="test_a[2]" time="{seconds}"/>'
            '<testcase classname="tests.test_quick_subset.TestClass" name="test_b" time="1.0"/>'
            "</testsuite></testsuites>",
            encoding="utf-8",
        )
    assert measured_times(runs) == {"test_quick_subset.py": {"test_a": 3.0, "test_b": 1.0}}


def test_long_files_are_left_out_and_packages_stay() -> None:
    """A long file is left out, the longest first; of a package with long files only, the quick tests of one file stay."""
    times = {
        "bridge/test_quick.py": {"test_a": 0.1},
        "bridge/test_long.py": {"test_a": 0.1, "test_b": 9.0},
        "bridge/store/test_long.py": {"test_a": 0.9, "test_b": 9.0},
        "bridge/store/test_longer.py": {"test_a": 19.0},
        "rules/judge/test_all_long.py": {"test_a": 8.0, "test_b": 9.0},
        "browser/test_long.py": {"test_a": 0.1, "test_b": 9.0},
    }
    assert choose_long(times) == [
        "bridge/store/test_longer.py",
        "rules/judge/test_all_long.py::test_b",
        "bridge/store/test_long.py::test_b",
        "bridge/test_long.py",
        "browser/test_long.py",
    ]
