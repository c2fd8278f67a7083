"""Tests of `.ci/locked/`: every library of pyproject.toml has one version there, with hashes."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

TOP = Path(__file__).resolve().parent.parent.parent
LOCKED = TOP / ".ci" / "locked"
PIN = re.compile(
    r"^(?P<name>[\w.-]+)==(?P<version>[^\s;]+)(?P<rest>[^\n]*(?:\n +--hash=sha256:[0-9a-f]{64}[ \\]*)*)",
    re.MULTILINE,
)


def pins(name: str) -> dict[str, set[str]]:
    """Give the locked versions of each package, of all systems."""
    found: dict[str, set[str]] = {}
    for match in PIN.finditer((LOCKED / name).read_text(encoding="utf-8")):
        found.setdefault(canonicalize_name(match["name"]), set()).add(match["version"])
    return found


def requirements(*, extras: bool) -> list[Requirement]:
    """Give what pyproject.toml asks for."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    groups = project["optional-dependencies"].values() if extras else ()
    return [Requirement(text) for group in (project["dependencies"], *groups) for text in group]


@pytest.mark.parametrize(("name", "extras"), [("base.txt", False), ("all.txt", True)])
def test_what_the_project_asks_for_is_locked_in_a_version_that_fits(name: str, extras: bool) -> None:
    """A library that was added without `.ci/lock` is named here."""
    locked = pins(name)
    wrong = [
        str(wanted)
        for wanted in requirements(extras=extras)
        if not any(version in wanted.specifier for version in locked.get(canonicalize_name(wanted.name), ()))
    ]
    assert wrong == [], "run .ci/lock"


def test_the_demo_runs_on_the_versions_that_are_tested() -> None:
    """`base.txt` is a part of `all.txt`."""
    tested = pins("all.txt")
    assert {name: found for name, found in pins("base.txt").items() if tested.get(name) != found} == {}


@pytest.mark.parametrize("path", sorted(LOCKED.iterdir()), ids=lambda path: path.name)
def test_every_locked_version_has_hashes(path: Path) -> None:
    """The installer compares the file that it fetches with them; a line without one would be refused."""
    text = path.read_text(encoding="utf-8")
    found = list(PIN.finditer(text))
    assert found
    assert [match["name"] for match in found if "--hash=sha256:" not in match["rest"]] == []
    assert PIN.sub("", text).strip() == "", "a line that is no version"
