"""Generates the parts of the documents that come from the code.

Takes: the code.  Gives: `PARTS`, the function for each name of a part, which writes it as Markdown.
"""

from __future__ import annotations

import importlib
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import typer
from ruamel.yaml import YAML
from typer.core import TyperArgument, TyperCommand, TyperGroup

from bridge.cli import app
from rules.packs.figure_functions import FIGURE_FUNCTIONS, TEXT_PARAMETER, FigureFunction
from rules.signals.book import load_book
from rules.signals.model import Signal, SignalKind
from tests.documents.markdown import code, table
from tests.shipped import shipped_pack

TOP = Path(__file__).parents[2]
PACKS = ("twin_jet", "trainer")
BOOKS_FOLDER = ("common", "twin_jet", "piston", "trip")


def documents() -> list[Path]:
    """List the documents: every Markdown file that git tracks or would add."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "*.md"],  # noqa: S607 - the installed git
        cwd=TOP,
        capture_output=True,
        text=True,
        check=True,
    )
    return [path for name in sorted(listed.stdout.split()) if (path := TOP / name).is_file()]


def commands() -> dict[str, TyperCommand]:
    """Give every command of `holdshort` by its name, those of sub-groups as `GROUP COMMAND`."""
    return dict(_commands_of(typer.main.get_group(app)))


def _commands_of(group: TyperGroup, prefix: str = "") -> Iterator[tuple[str, TyperCommand]]:
    for name, command in group.commands.items():
        if isinstance(command, TyperGroup):
            yield from _commands_of(command, f"{prefix}{name} ")
        elif isinstance(command, TyperCommand):
            yield f"{prefix}{name}", command


def _command_table() -> str:
    return table(
        ("command", "what it does"),
        [(code(f"holdshort {name}"), _sentence(command)) for name, command in commands().items()],
    )


def _option_tables() -> str:
    return "\n".join(
        f"### `holdshort {name}`\n\n{(command.help or '').strip()}\n\n{_options(command)}"
        for name, command in commands().items()
    )


def _options(command: TyperCommand) -> str:
    rows = [
        (_name(given), _default(given), getattr(given, "help", None) or "")
        for given in command.params
        if given.name != "help"
    ]
    return table(("option", "default", "meaning"), rows)


def _name(given: object) -> str:
    if isinstance(given, TyperArgument):
        return code(given.metavar or str(given.name).upper())
    return ", ".join(
        code(word) for word in (*getattr(given, "opts", ()), *getattr(given, "secondary_opts", ()))
    )


def _default(given: object) -> str:
    if getattr(given, "required", False):
        return "**required**"
    value = getattr(given, "default", None)
    if value in (None, "", [], ()) or callable(value):
        return "none"
    return code(str(value).lower() if isinstance(value, bool) else value)


def _sentence(command: TyperCommand) -> str:
    return (command.help or "").strip().split("\n\n")[0]


def _gates() -> str:
    return "\n".join(
        f"`{name}`:\n\n"
        + table(
            ("gate", "title", "phase"),
            [(code(g.id), g.title, code(g.phase)) for g in shipped_pack(name).gates],
        )
        for name in PACKS
    )


def _functions() -> str:
    return table(
        ("function", "parameters", "result"), [_function(FIGURE_FUNCTIONS[name]) for name in FIGURE_FUNCTIONS]
    )


def _function(recipe: FigureFunction) -> tuple[str, str, str]:
    parameters = ", ".join(
        f"`{name}` {'word' if given.unit == TEXT_PARAMETER else given.unit}{'' if given.required else ' (optional)'}"
        for name, given in recipe.parameters.items()
    )
    return (
        code(recipe.name),
        parameters,
        f"a direction, {recipe.unit}" if recipe.is_direction else recipe.unit,
    )


def _signals() -> str:
    known: set[str] = set()
    parts = []
    for name in BOOKS_FOLDER:
        own = [signal for signal in load_book(name).signals.values() if signal.name not in known]
        known.update(signal.name for signal in own)
        rows = [(code(s.name), _values(s), s.label, s.meaning) for s in own]
        parts.append(f"### Book `{name}`\n\n" + table(("signal", "values", "label", "meaning"), rows))
    return "\n".join(parts)


def _values(signal: Signal) -> str:
    if signal.words:
        return ", ".join(signal.words)
    if signal.kind is SignalKind.TEXT:
        return f"text, at most {signal.max_length} characters"
    return f"{signal.low:g} to {signal.high:g} {signal.unit}".rstrip()


def _faults() -> str:
    cases = YAML(typ="safe").load((TOP / "tests" / "cases" / "faults.yaml").read_text("utf-8"))
    rows = [
        (code(case["condition"]), fault["what"], fault["expected"], fault["hint"])
        for case in cases
        for fault in case["faults"]
    ]
    return table(("condition", "fault", "expected", "hint"), rows)


def _area_parts() -> dict[str, Callable[[], str]]:
    """Collect `PARTS` of each module `parts_AREA.py` of this folder."""
    areas = (path.stem for path in sorted(Path(__file__).parent.glob("parts_*.py")))
    found: dict[str, Callable[[], str]] = {}
    for area in areas:
        parts = importlib.import_module(f"tests.documents.{area}").PARTS
        if twice := found.keys() & parts.keys():
            raise ValueError(f"{area} defines {', '.join(sorted(twice))} a second time")
        found |= parts
    return found


PARTS: dict[str, Callable[[], str]] = {
    "commands": _command_table,
    "options": _option_tables,
    "gates": _gates,
    "functions": _functions,
    "signals": _signals,
    "faults": _faults,
    **_area_parts(),
}
