"""Tests of the numbers of migrations: two changes that land together must not have the same one."""

from __future__ import annotations

import importlib
import re
from collections import defaultdict
from pathlib import Path

from bridge.store.migrations import versions

FOLDER = Path(versions.__file__).parent
FILES = sorted(path for path in FOLDER.glob("v*.py"))


def number_of(path: Path) -> str:
    """The four digits with which a migration's file name begins."""
    found = re.fullmatch(r"v(\d{4})_\w+", path.stem)
    assert found, f"{path.name}: a migration is called v0011_what_it_does.py"
    return found[1]


def test_no_two_migrations_have_the_same_number() -> None:
    """Where two branches took the same number, the later one to land takes the next."""
    by_number = defaultdict(list)
    for path in FILES:
        by_number[number_of(path)].append(path.name)
    shared = [names for names in by_number.values() if len(names) > 1]
    assert not shared, f"give the later of these the next number, in its name and its revision: {shared}"


def test_migrations_follow_each_other() -> None:
    """Each has the number of its file, and follows the one before it."""
    previous = None
    for place, path in enumerate(FILES, start=1):
        module = importlib.import_module(f"{versions.__name__}.{path.stem}")
        expected = (f"{place:04}", f"{place:04}", previous)
        assert (number_of(path), module.revision, module.down_revision) == expected, path.name
        previous = module.revision
