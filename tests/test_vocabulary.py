"""Tests of the project's vocabulary: class names are unique, retired words do not come back, first lines are plain.

Takes: every module of the project, and `vocabulary.yaml`.  Gives: tests that name the file and the word.
"""

from __future__ import annotations

import ast
import re
import subprocess
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from tests.documents.generated import commands

TOP = Path(__file__).parents[1]
RULES = YAML(typ="safe").load((TOP / "tests" / "vocabulary.yaml").read_text("utf-8"))
PRODUCT = ("adapters", "bridge", "mock_sim", "rules")
CAPITAL = re.compile(r"[A-Z]+(?![a-z])|[A-Z][a-z0-9]*")


@cache
def modules() -> dict[str, ast.Module]:
    """Parse every Python file that git knows, by its path."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "*.py"],  # noqa: S607 - git of the path
        cwd=TOP,
        capture_output=True,
        text=True,
        check=True,
    )
    return {
        name: ast.parse((TOP / name).read_text("utf-8"))
        for name in listed.stdout.split()
        if (TOP / name).is_file()
    }


def product_modules() -> dict[str, ast.Module]:
    """Give the modules that are installed, without tests."""
    return {name: tree for name, tree in modules().items() if name.split("/")[0] in PRODUCT}


def public_classes() -> dict[str, list[str]]:
    """Give the modules in which each public class stands."""
    places = defaultdict(list)
    for name, tree in product_modules().items():
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places[node.name].append(name)
    return places


def words_of_path(name: str) -> set[str]:
    """Split the last part of a module's path, or of its package's for `__init__`, into words."""
    path = Path(name)
    stem = path.parent.name if path.stem == "__init__" else path.stem
    return set(stem.removeprefix("test_").split("_"))


def test_public_class_names_are_unique() -> None:
    """A public class name stands in one module, apart from the parallel parts listed with their reasons."""
    twice = {name: places for name, places in public_classes().items() if len(places) > 1}
    assert {name: places for name, places in twice.items() if name not in RULES["parallel_classes"]} == {}
    assert sorted(RULES["parallel_classes"]) == sorted(twice), "the list holds a name that is unique now"


def test_each_parallel_class_has_a_reason() -> None:
    """Every exception says why the two classes may share a name."""
    assert all(len(str(reason)) > 20 for reason in RULES["parallel_classes"].values())


def test_no_module_has_a_retired_name() -> None:
    """No module or package is called by a retired word, tests included."""
    retired = set(RULES["retired"]["modules"])
    assert {name: found for name in modules() if (found := words_of_path(name) & retired)} == {}


def test_no_class_has_a_retired_name() -> None:
    """No class is called by a retired word, private classes and tests included."""
    retired = set(RULES["retired"]["classes"])
    found = {
        f"{name}: {node.name}"
        for name, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef) and {word.lower() for word in CAPITAL.findall(node.name)} & retired
    }
    assert found == set()


def test_no_command_or_option_has_a_retired_name() -> None:
    """No command and no option is called by a retired word."""
    retired = set(RULES["retired"]["commands_and_options"])
    used = set()
    for name, command in commands().items():
        used |= set(name.split())
        used |= {
            word.lstrip("-") for given in command.params for word in (*given.opts, *given.secondary_opts)
        }
    assert used & retired == set()


def first_lines() -> Iterator[tuple[str, str]]:
    """Give the first line of each module's docstring."""
    for name, tree in modules().items():
        if text := ast.get_docstring(tree):
            yield name, text.splitlines()[0]


def test_every_module_has_a_docstring() -> None:
    """Each module of the product says what is in it."""
    assert [name for name, tree in product_modules().items() if not ast.get_docstring(tree)] == []


def test_first_lines_of_modules_are_plain() -> None:
    """The first line of a module's docstring is short, ends with a stop and has no word of the retired register."""
    wrong = [f"{name}: {why}: {line}" for name, line in first_lines() for why in faults_of(line)]
    assert wrong == []


def docstrings() -> Iterator[tuple[str, str]]:
    """Give the first line of each docstring of a class or function in the product, with its place."""
    for name, tree in product_modules().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and (
                text := ast.get_docstring(node)
            ):
                yield f"{name}:{node.lineno}", text.splitlines()[0]


def test_first_lines_of_docstrings_are_plain() -> None:
    """The first line of a docstring has no word of the retired register and does not begin as a riddle."""
    wrong = [
        f"{place}: {why}: {line}" for place, line in docstrings() for why in faults_of(line, longest=1000)
    ]
    assert wrong == []


def faults_of(line: str, longest: int = 120) -> Iterator[str]:
    """Say what is not plain about a first line."""
    plain = re.sub(r"`[^`]*`", "", line)
    if not line.rstrip().endswith((".", ":", "?")):
        yield "no full stop"
    if len(line) > longest:
        yield f"longer than {longest}"
    if match := re.match(rf"({'|'.join(RULES['unplain']['openings'])})\b", plain):
        yield f"begins with {match[1]}"
    for pattern in RULES["unplain"]["words"]:
        if re.search(rf"\b(?:{pattern})\b", plain, re.IGNORECASE):
            yield f"says {pattern}"


@pytest.mark.parametrize("line", RULES["unplain"]["examples"])
def test_the_measure_finds_unplain_lines(line: str) -> None:
    """Lines of the retired register are found by the measure."""
    assert list(faults_of(line))
