"""Programs and libraries that tests need, each with the line that installs it.

Takes: nothing.  Gives: a skipped test, or a failed one where `CI` is set; the end of pytest where libraries are missing.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import NoReturn

import pytest

TOP = Path(__file__).resolve().parents[1]
CHROMIUM = "chromium is not installed: on Debian, as root, apt-get install chromium fonts-dejavu-core"
POSTGRESQL = "PostgreSQL is not installed, the store is tested on SQLite only: on Debian, as root, apt-get install postgresql"
PDFTOTEXT = "pdftotext is not installed: on Debian, as root, apt-get install poppler-utils"
SET_UP = "set up with: python3 .ci/fresh tools; then use .venv/bin/python -m pytest"
NEEDED_EXTRAS = ("postgres", "report", "test")
"""Extras of `pyproject.toml` that all tests need; without `real`, `voice` and `bench` some tests are skipped."""


def skip_or_fail(text: str) -> NoReturn:
    """Skip the test; where `CI` is set, fail it, so that a missing program is noticed.

    Args:
        text: what is missing, and the line that installs it.
    """
    if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
        pytest.fail(text, pytrace=False)
    pytest.skip(text)


def find_chromium() -> str | None:
    """Find the program of the browser."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


def exit_without_libraries() -> None:
    """End pytest with one line where a library is missing that tests import."""
    missing = missing_libraries()
    if missing:
        sys.exit(f"the tests need libraries that are not installed: {', '.join(missing)}\n  {SET_UP}")


def missing_libraries() -> list[str]:
    """Give the libraries of `pyproject.toml` that are not installed."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = (project["optional-dependencies"][extra] for extra in NEEDED_EXTRAS)
    lines = [*project["dependencies"], *(line for extra in extras for line in extra)]
    return [name for line in lines if not _is_installed(name := re.split(r"[\[>=<]", line)[0])]


def _is_installed(name: str) -> bool:
    try:
        version(name)
    except PackageNotFoundError:
        return False
    return True
