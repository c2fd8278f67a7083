"""Runs of the tests against a changed source, in a copy of the repository.

The tests of the changed module run first, then those of its package, then the quick subset: most changes are noticed by the
first, and only one that nothing noticed costs all three.

Takes: a `SourceChange`.  Gives: an `Outcome`.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from tests.mutation.changes import TOP, SourceChange

PARTS = (
    "adapters",
    "bridge",
    "mock_sim",
    "rules",
    "tests",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    ".ci",
)
LIMIT_S = 400
"""Longest time of one run of tests; a change that makes them last longer is noticed by that."""
QUIET = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:randomly", "--no-header", "--tb=no")
NO_TESTS = 5
"""pytest's exit code where a folder has none that were chosen."""


class Noticed(StrEnum):
    """Which tests noticed a change."""

    BY_ITS_MODULE = "by the tests of its module"
    BY_ITS_PACKAGE = "by the tests of its package"
    BY_THE_QUICK_SUBSET = "by the quick subset"
    BY_NONE = "by none"


class Outcome(NamedTuple):
    """A change and who noticed it."""

    change: SourceChange
    noticed: Noticed


class Copy:
    """A copy of the repository in which one file after the other is changed.

    Args:
        folder: An empty folder.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        for part in PARTS:
            source = TOP / part
            if source.is_dir():
                shutil.copytree(
                    source, folder / part, ignore=shutil.ignore_patterns("__pycache__", "*.so", "*.pyd")
                )
            elif source.exists():
                shutil.copy(source, folder / part)

    def try_change(self, change: SourceChange) -> Outcome:
        """Change the file, run the tests, and put the file back."""
        path = self._folder / change.file
        before = path.read_text("utf-8")
        path.write_text(change.text, "utf-8")
        try:
            return Outcome(change, self._noticed(change))
        finally:
            path.write_text(before, "utf-8")

    def _noticed(self, change: SourceChange) -> Noticed:
        for noticed, arguments in self._stages(change.file):
            if not self._passes(arguments):
                return noticed
        return Noticed.BY_NONE

    def _stages(self, file: str) -> Iterator[tuple[Noticed, list[str]]]:
        """Arguments of pytest, the quickest tests first."""
        module = Path(file)
        package = Path("tests") / module.parent
        own = package / f"test_{module.stem}.py"
        if (self._folder / own).exists():
            yield Noticed.BY_ITS_MODULE, [str(own)]
        while not (self._folder / package).exists():
            package = package.parent
        yield Noticed.BY_ITS_PACKAGE, ["--quick", str(package)]
        yield Noticed.BY_THE_QUICK_SUBSET, ["--quick", "tests"]

    def _passes(self, arguments: list[str]) -> bool:
        """True if the tests pass with the change."""
        environment = {**os.environ, "PYTHONPATH": str(self._folder), "PYTHONDONTWRITEBYTECODE": "1"}
        line = [sys.executable, "-m", "pytest", *QUIET, *arguments]
        try:
            ended = subprocess.run(
                line, cwd=self._folder, env=environment, capture_output=True, timeout=LIMIT_S, check=False
            )
        except subprocess.TimeoutExpired:
            return False
        return ended.returncode in (0, NO_TESTS)
