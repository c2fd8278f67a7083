"""A file of results, so that a long run can be stopped and goes on where it was.

A result holds for the code with which it was flown: those of another state of the packs, the judge or the mock simulator are
not used, and their flights are flown again.

Takes: jobs (kind and seed) with their results.  Gives: JSON lines, and what was flown before.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import TypeAlias

from tests.random_days.judged_day import DayResult

ROOT = Path(__file__).parents[2]
CODE = (
    "adapters",
    "mock_sim",
    "rules",
    "tests/accidents",
    "tests/other_days",
    "tests/packs_flight",
    "tests/random_days",
)
"""Folders on which a result depends."""

Job: TypeAlias = tuple[str, int]
"""Kind and seed."""


@cache
def code_digest() -> str:
    """A digest of all files on which a result depends."""
    digest = sha256()
    for folder in CODE:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".py", ".yaml", ".lark"):
                digest.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


class ResultsFile:
    """The results of earlier runs of the same code, and a place for new ones."""

    def __init__(self, path: Path | None) -> None:
        """Read the file; None for none, which knows and stores nothing."""
        self._path = path
        lines = path.read_text("utf-8").splitlines() if path is not None and path.exists() else []
        entries = [json.loads(line) for line in lines]
        self.known: Mapping[Job, list[DayResult]] = {
            (entry["kind"], entry["seed"]): [DayResult(**result) for result in entry["results"]]
            for entry in entries
            if entry["code"] == code_digest()
        }
        self.outdated = len(entries) - len(self.known)

    def append(self, job: Job, results: Iterable[DayResult]) -> None:
        """Store the results of a job at once."""
        if self._path is None:
            return
        entry = {
            "code": code_digest(),
            "kind": job[0],
            "seed": job[1],
            "results": [asdict(result) for result in results],
        }
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(entry) + "\n")
