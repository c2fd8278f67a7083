"""Generates the parts of tests/README.md: the test folders and the marks.

Takes: the packages of `tests`, and pyproject.toml.  Gives: `PARTS`.
"""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Callable
from pathlib import Path

from tests.documents.markdown import code, table

TOP = Path(__file__).parents[2]
DATA_FOLDERS = {
    "cases": "Data files: conditions with samples and their truth, and faulty conditions with their messages.",
}


def _folders() -> str:
    rows = [(code(f"tests/{name}/"), text) for name, text in sorted((DATA_FOLDERS | _packages()).items())]
    return table(("folder", "tests of"), rows)


def _packages() -> dict[str, str]:
    return {
        path.parent.name: _first_line(path)
        for path in (TOP / "tests").glob("*/__init__.py")
        if path.is_file()
    }


def _first_line(path: Path) -> str:
    return (ast.get_docstring(ast.parse(path.read_text("utf-8"))) or "").splitlines()[0]


def _marks() -> str:
    settings = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))
    marks = (mark.partition(": ") for mark in settings["tool"]["pytest"]["ini_options"]["markers"])
    return table(
        ("mark", "meaning"), [(code(name), f"{text[0].upper()}{text[1:]}.") for name, _, text in marks]
    )


PARTS: dict[str, Callable[[], str]] = {"test folders": _folders, "test marks": _marks}
