"""The documents agree with the code: generated parts, links, paths and shell lines.

Takes: every Markdown file of the project, and the code.  Gives: tests that fail when either changes alone.
"""

from __future__ import annotations

import re
import shlex
import shutil
from functools import cache
from importlib.machinery import SourceFileLoader
from importlib.util import find_spec, module_from_spec, spec_from_loader
from pathlib import Path
from typing import Any, get_args

import pytest
import typer
from pydantic import BaseModel
from typer.testing import CliRunner

from bridge.cli import app
from tests.documents import forms
from tests.documents.generated import PARTS, TOP, commands, documents
from tests.documents.markdown import (
    PART,
    anchors,
    code_words,
    fill,
    links,
    names_of_parts,
    quoted_commands,
    shell_lines,
    table,
)
from tests.shipped import shipped_pack

GUIDE = TOP / "DEVELOPERS.md"
PRODUCT = ("adapters", "bridge", "mock_sim", "rules")
WRITERS = {name: cache(write) for name, write in PARTS.items()}
"""The functions of the parts, each run once."""
TEXTS = {path.relative_to(TOP).as_posix(): path.read_text("utf-8") for path in documents()}
HOLDSHORT_LINES = [(name, line) for name, text in TEXTS.items() for line in quoted_commands(text)]
SHELL_LINES = [(name, line) for name, text in TEXTS.items() for line in shell_lines(text)]
ENDS_BY_ITSELF = ("check", "sessions", "trends", "retention", "judge")
"""Commands that need no simulator, no running watch and no recording, and end by themselves."""


def ids(lines: list[tuple[str, str]]) -> list[str]:
    """Name each case by its document and line."""
    return [f"{name}: {line}" for name, line in lines]


# Generated parts


@pytest.mark.parametrize("name", TEXTS)
def test_generated_parts_are_up_to_date(name: str) -> None:
    """Every generated part of a document equals what the code gives now."""
    assert fill(TEXTS[name], WRITERS) == TEXTS[name], f"{name}: run python -m tests.documents"


def test_every_part_is_used() -> None:
    """Each function that generates a part is used by a document."""
    used = {part for text in TEXTS.values() for part in names_of_parts(text)}
    assert sorted(PARTS.keys() - used) == []


@pytest.mark.parametrize("name", TEXTS)
def test_every_part_ends(name: str) -> None:
    """Each opening comment of a part has its closing comment, and none is left over."""
    opened = TEXTS[name].count("<!-- generated: ")
    assert opened == TEXTS[name].count("<!-- end -->") == len(PART.findall(TEXTS[name]))


def test_every_form_is_documented() -> None:
    """The keys of each form that checks a user's file are in a generated table."""
    for write in WRITERS.values():
        write()
    missing = {form.__name__ for form in product_forms() if not is_documented(form)}
    assert missing == NOT_WRITTEN_BY_KEYS.keys()


def is_documented(form: type[BaseModel]) -> bool:
    """Check if a form has a table, or is a base whose keys are in the table of each form below it."""
    below = [each for each in form.__subclasses__() if each.__module__.split(".")[0] in PRODUCT]
    return form in forms.DOCUMENTED or (bool(below) and all(map(is_documented, below)))


NOT_WRITTEN_BY_KEYS = {
    "SeatForm": "a seat is written as its title alone",
    "Correction": "the loader makes it of the keys corrected_* of a slip",
    "Scenario": "the loader makes it of one or more scenario files",
}
"""Forms without a table, each with its reason."""


def product_forms() -> set[type[BaseModel]]:
    """Give the forms of the product that have keys of their own, except files with one key whose value has a table."""
    known = set(subclasses(BaseModel))
    product = {form for form in known if form.__module__.split(".")[0] in PRODUCT}
    return {form for form in product if own_keys(form) and not is_wrapper(form)}


def subclasses(form: type[BaseModel]) -> list[type[BaseModel]]:
    """List all direct and indirect subclasses."""
    return [each for child in form.__subclasses__() for each in (child, *subclasses(child))]


def own_keys(form: type[BaseModel]) -> set[str]:
    """Give the keys of a form that a user may write and that it does not inherit."""
    inherited = {name for base in form.__mro__[1:] for name in getattr(base, "model_fields", {})}
    return {name for name, field in form.model_fields.items() if not field.exclude} - inherited


def is_wrapper(form: type[BaseModel]) -> bool:
    """Check if a form has one key, whose value is another form or contains forms by name."""
    if len(form.model_fields) != 1:
        return False
    (field,) = form.model_fields.values()
    return any(
        isinstance(kind, type) and issubclass(kind, BaseModel)
        for kind in (field.annotation, *get_args(field.annotation))
    )


def test_every_command_is_documented() -> None:
    """Each command has a line in the table of commands and a table of its options, in some document."""
    text = "\n".join(TEXTS.values())
    missing = [
        name
        for name in commands()
        if f"| `holdshort {name}` |" not in text or f"### `holdshort {name}`\n" not in text
    ]
    assert missing == []


# Ids of items


ITEM_ID = re.compile(r"\bflow\.[a-z]\w*\.[a-z]\w*")
OF_ANOTHER_PACK = ("rules/language/README.md",)
"""Documents whose examples are judged with the small pack of their own tests."""


def test_quoted_items_exist() -> None:
    """Each id of an item in the help of a command or in a document is one of the twin jet's pack."""
    texts = {name: text for name, text in TEXTS.items() if name not in OF_ANOTHER_PACK}
    for name, command in commands().items():
        helps = (getattr(parameter, "help", None) for parameter in command.params)
        texts[f"help of {name}"] = "\n".join(filter(None, (command.help, *helps)))
    quoted = {(name, item) for name, text in texts.items() for item in ITEM_ID.findall(text)}
    assert ("help of waive", "flow.before_start.beacon") in quoted
    known = shipped_pack("twin_jet").items
    assert sorted(one for one in quoted if one[1] not in known) == []


# Links and paths


@pytest.mark.parametrize("name", TEXTS)
def test_links_resolve(name: str) -> None:
    """Each relative link leads to a file, and each anchor to a heading of it."""
    broken = [target for target in links(TEXTS[name]) if not leads_somewhere(TOP / name, target)]
    assert broken == []


def leads_somewhere(document: Path, target: str) -> bool:
    """Check if a link's target exists; addresses on the network are not looked up."""
    if re.match(r"[a-z]+:", target):
        return True
    path, _, anchor = target.partition("#")
    file = (document.parent / path).resolve() if path else document
    if not file.exists():
        return False
    return not anchor or (file.is_file() and anchor in anchors(file.read_text("utf-8")))


@pytest.mark.parametrize("name", TEXTS)
def test_paths_exist(name: str) -> None:
    """Each path of the source tree that a document names exists."""
    tops = {path.name for path in TOP.iterdir() if path.is_dir()}
    paths = [
        word
        for word in code_words(TEXTS[name])
        if re.fullmatch(r"[a-z_.]+(/[a-z0-9_.]+)+/?", word) and word.split("/")[0] in tops
    ]
    assert [path for path in paths if not (TOP / path).exists()] == []


# Shell lines


@pytest.mark.parametrize(("name", "line"), HOLDSHORT_LINES, ids=ids(HOLDSHORT_LINES))
def test_holdshort_lines_parse(name: str, line: str) -> None:
    """Each `holdshort` line has a known command, known options and values of the right types."""
    command, arguments = command_of(line)
    if "--help" in arguments:
        return
    context = command.make_context(name, arguments)
    assert isinstance(context.params, dict)


def command_of(line: str) -> tuple[Any, list[str]]:
    """Find the command of a line, and its arguments."""
    command: Any = typer.main.get_group(app)
    arguments = shlex.split(line)[1:]
    while hasattr(command, "commands") and arguments and arguments[0] != "--help":
        assert arguments[0] in command.commands, f"unknown command {arguments[0]} in: {line}"
        command = command.commands[arguments.pop(0)]
    return command, arguments


RUNNABLE = sorted(
    {
        line
        for _, line in HOLDSHORT_LINES
        if shlex.split(line)[1] in ENDS_BY_ITSELF or "--help" in shlex.split(line)
    }
)


@pytest.fixture
def working_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Change into a folder with the files that the documents' lines name."""
    monkeypatch.chdir(tmp_path)
    trip = TOP / "rules" / "packs" / "data" / "twin_jet" / "trip_demo.yaml"
    shutil.copy(trip, tmp_path / "my_flight.yaml")
    shutil.copytree(TOP / "rules" / "packs" / "data" / "twin_jet", tmp_path / "my_pack")
    (tmp_path / "state.json").write_text("{}")
    return tmp_path


@pytest.mark.parametrize("line", RUNNABLE)
@pytest.mark.usefixtures("working_folder")
def test_holdshort_lines_run(line: str) -> None:
    """Each line that ends by itself has exit code 0 or 1, which is no fault of input."""
    result = CliRunner().invoke(app, shlex.split(line)[1:])
    assert result.exit_code in (0, 1), f"{line}\n{result.output}"


@pytest.mark.parametrize("name", commands())
def test_every_command_has_help(name: str) -> None:
    """`holdshort COMMAND --help` prints the first sentence of the command's help."""
    result = CliRunner().invoke(app, [*name.split(), "--help"])
    assert result.exit_code == 0
    assert (commands()[name].help or "").split()[0] in result.output


PYTHON_LINES = [(name, line) for name, line in SHELL_LINES if re.search(r"python3?( |$)", line)]


@pytest.mark.parametrize(("name", "line"), PYTHON_LINES, ids=ids(PYTHON_LINES))
def test_python_lines_name_something(name: str, line: str) -> None:
    """Each Python line names a word of `.ci/fresh`, a module that exists, or paths of tests that exist."""
    words = shlex.split(line)
    if ".ci/fresh" in words:
        assert words[words.index(".ci/fresh") + 1] in fresh_words(), name
        return
    module = words[words.index("-m") + 1]
    assert find_spec(module) is not None, name
    paths = [word.partition("::")[0] for word in words if word.startswith("tests/")]
    assert [path for path in paths if not (TOP / path).exists()] == []


def fresh_words() -> set[str]:
    """Give the words that `.ci/fresh` accepts."""
    loader = SourceFileLoader("fresh", str(TOP / ".ci" / "fresh"))
    spec = spec_from_loader("fresh", loader)
    assert spec is not None
    module = module_from_spec(spec)
    loader.exec_module(module)
    return set(module.COMMANDS)


def test_programs_of_shell_lines_exist() -> None:
    """Each shell line calls a program that the tests above check, a script of the project, or pip."""
    other = [
        (name, line)
        for name, line in SHELL_LINES
        if not re.search(r"(^|[ /])(holdshort|python3?|pip)( |$)", line)
        and not (TOP / shlex.split(line)[0]).is_file()
    ]
    assert other == []


# The two documents at the top


def test_the_readme_is_short() -> None:
    """README.md has at most 80 lines of text."""
    assert len([line for line in TEXTS["README.md"].splitlines() if line.strip()]) <= 80


def test_the_guide_is_short() -> None:
    """DEVELOPERS.md has at most 12 500 bytes."""
    assert GUIDE.stat().st_size <= 12_500


def test_the_folders_of_the_guide_exist() -> None:
    """Each folder in the tree of DEVELOPERS.md exists."""
    assert sorted(path for path in guide_folders() if not (TOP / path).is_dir()) == []


def test_the_guide_has_every_package() -> None:
    """Each package of the product is in the tree of DEVELOPERS.md, down to two levels below the top."""
    packages = {
        path.parent.relative_to(TOP).as_posix()
        for top in PRODUCT
        for path in TOP.glob(f"{top}/**/__init__.py")
    }
    wanted = {path for path in packages if path.count("/") <= 1}
    assert sorted(wanted - guide_folders()) == []


def guide_folders() -> set[str]:
    """Read the folders of the tree in DEVELOPERS.md: an entry `name/` by its indentation, others within its text."""
    tree = TEXTS["DEVELOPERS.md"].partition("\n## Folders\n")[2].partition("```\n")[2].partition("```")[0]
    assert tree
    found: set[str] = set()
    top = ""
    for line in tree.splitlines():
        entries = re.match(r"( *)((?:\w+/)(?:, \w+/)*)", line)
        if entries is None:
            continue
        names = [name.rstrip("/") for name in entries[2].split(", ")]
        if not entries[1]:
            top = names[0]
            found.add(top)
        else:
            found.update(f"{top}/{name}" for name in names)
    return found


# The reader of Markdown


def test_anchors_are_those_of_the_renderers() -> None:
    """Headings become anchors in small letters with hyphens; a repeated heading gets a number."""
    text = "# A `code` title: 1, 2\n## Over-all\n## Over-all\n```\n# not a heading\n```\n"
    assert anchors(text) == {"a-code-title-1-2", "over-all", "over-all-1"}


def test_links_are_found_outside_code() -> None:
    """Links and images are found, also where the line breaks in the text; those in code are not."""
    text = "[a](b.md#c) ![d](e.png) `[x](y)`\n```\n[x](z)\n```\n[two\nwords](f.md)\n"
    assert links(text) == ["b.md#c", "e.png", "f.md"]


def test_shell_lines_are_joined_and_uncommented() -> None:
    """A continued line is one line, and a comment is no part of it."""
    text = "```sh\nholdshort a \\\n  --b c   # why\n$ python -m x\n\n```\n```yaml\nholdshort no\n```\n"
    assert [" ".join(line.split()) for line in shell_lines(text)] == ["holdshort a --b c", "python -m x"]
    assert len(quoted_commands(text)) == 1


def test_a_cell_has_one_line() -> None:
    """A bar is escaped and a line end becomes a blank, so that a table stays a table."""
    assert table(("a",), [("x|y\nz",)]) == "| a |\n| --- |\n| x\\|y z |\n"
