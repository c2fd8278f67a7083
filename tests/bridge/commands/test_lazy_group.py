"""Tests of bridge.commands.lazy_group: a command imports its own module and only the libraries that it needs."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
import typer

from bridge.cli import COMMANDS, app
from bridge.commands.lazy_group import LazyCommands
from tests.documents.generated import commands

TOP = Path(__file__).parents[3]
TRIP = str(TOP / "rules" / "packs" / "data" / "twin_jet" / "trip_demo.yaml")

REPORT_MODULES = """
import json, sys
from bridge.cli import main
sys.argv = ["holdshort", *sys.argv[1:]]
try:
    main()
except SystemExit:
    pass
print(json.dumps(sorted(sys.modules)))
"""

PACK = {"lark", "msgspec", "pydantic", "pygeomag", "ruamel-yaml", "typer"}
"""What loading a pack may import; Pint, which imports NumPy, only for unusual units."""

MAY_IMPORT = {
    "--help": {"typer"},
    "call push_approved --control-port 9": {"msgspec", "pydantic", "typer"},
    "check --help": PACK,
    "check twin_jet": PACK,
    f"judge state.json --pack twin_jet --trip {TRIP} --gate push_back": PACK | {"rich"},
}
"""Which of our libraries a command may import.  Typer uses pydantic for options with bounds."""


def declared_libraries() -> set[str]:
    """Give the names of all libraries in `pyproject.toml`."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = [
        *project["dependencies"],
        *(n for extra in project["optional-dependencies"].values() for n in extra),
    ]
    return {_plain_name(re.split(r"[\[>=<]", line)[0]) for line in lines}


def _plain_name(distribution: str) -> str:
    return re.sub(r"[-_.]+", "-", distribution).lower()


def modules_of(words: str, folder: Path) -> list[str]:
    """Run a command in a new process and give every module that it imported."""
    done = subprocess.run(
        [sys.executable, "-c", REPORT_MODULES, *words.split()],
        cwd=folder,
        env={"PYTHONPATH": str(TOP), "HOLDSHORT_DATA_DIR": "off"},
        capture_output=True,
        text=True,
        check=True,
    )
    loaded: list[str] = json.loads(done.stdout.splitlines()[-1])
    return loaded


@pytest.mark.parametrize("words", MAY_IMPORT)
def test_a_command_imports_only_what_it_needs(words: str, tmp_path: Path) -> None:
    """No library of `pyproject.toml` is imported but those listed, and no module of another command.

    A module whose name begins with that of the command is a part of it, such as `judge_lists` of `judge`.
    """
    (tmp_path / "state.json").write_text("{}", encoding="utf-8")
    loaded = modules_of(words, tmp_path)
    distributions = packages_distributions()
    top_level = {name.partition(".")[0] for name in loaded}
    libraries = {_plain_name(name) for module in top_level for name in distributions.get(module, ())}
    assert "typer" in libraries
    assert (libraries & declared_libraries()) - MAY_IMPORT[words] == set()
    own = {ref.name: ref.target.partition(":")[0] for ref in COMMANDS}
    shared = {"bridge.commands.lazy_group", "bridge.commands.options"}
    wanted = {own[name] for name in words.split()[:1] if name in own}
    modules = {name for name in loaded if name.startswith("bridge.commands.")} - shared
    parts = {name for name in modules for command in wanted if name.startswith(f"{command}_")}
    assert modules - parts == wanted


def test_each_summary_is_the_first_sentence_of_the_help() -> None:
    """The table of commands shows the same text as the help of the command itself."""
    group = typer.main.get_group(app)
    assert isinstance(group.commands, LazyCommands)
    helps = {name: (command.help or "").split("\n\n")[0] for name, command in group.commands.items()}
    assert {ref.name: ref.summary for ref in COMMANDS} == {
        name: " ".join(text.split()) for name, text in helps.items()
    }


def test_the_program_help_lists_every_command(tmp_path: Path) -> None:
    """`holdshort --help` names each command, although none is imported."""
    done = subprocess.run(
        [sys.executable, "-m", "bridge", "--help"],
        cwd=tmp_path, env={"PYTHONPATH": str(TOP)}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    listed = {line.split()[0] for line in done.stdout.partition("Commands:")[2].splitlines() if line.strip()}
    assert {name.split()[0] for name in commands()} <= listed
