"""Changes of a module, made by the operators of Cosmic Ray: one comparison, number, operator or branch differs.

Takes: source files.  Gives: `SourceChange`s, each with the whole changed text.
"""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import unified_diff
from functools import cache
from itertools import islice
from pathlib import Path

from cosmic_ray.ast import Visitor, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Operator
from cosmic_ray.plugins import get_operator, operator_names

TOP = Path(__file__).parents[2]
LEFT_OUT = ("Variable", "NoOp")
"""Operators that need arguments, or change nothing."""


@dataclass(frozen=True)
class SourceChange:
    """One change of one file.

    Attributes:
        file: The file, relative to the repository.
        line: Where the change is, from 1.
        operator: The operator's name in Cosmic Ray.
        text: The changed source.
    """

    file: str
    line: int
    operator: str
    text: str

    @property
    def diff(self) -> str:
        """The lines that differ."""
        before = (TOP / self.file).read_text("utf-8").splitlines()
        lines = unified_diff(before, self.text.splitlines(), lineterm="", n=0)
        return "\n".join(line for line in lines if not line.startswith(("---", "+++", "@@")))

    @property
    def key(self) -> str:
        """The change in words that stay the same where other lines come before it."""
        return f"{self.file}: {' '.join(self.diff.split())}"


class _Places(Visitor):  # type: ignore[misc]  # the library ships no types
    """Lines at which an operator can change a module, in the operator's own order."""

    def __init__(self, operator: Operator) -> None:
        self.lines: list[int] = []
        self._operator = operator

    def visit(self, node: object) -> object:
        """Collect the places of one node."""
        self.lines += [begin[0] for begin, _ in self._operator.mutation_positions(node)]
        return node


@cache
def _operators() -> dict[str, Operator]:
    """The operators by name."""
    names = (name for name in operator_names() if not any(word in name for word in LEFT_OUT))
    return {name: get_operator(name)() for name in names}


def places(file: Path) -> dict[int, list[tuple[str, int]]]:
    """Give each line of a file that can be changed, with the operators that can and their counts."""
    tree, found = get_ast(file.read_text("utf-8")), defaultdict(list)
    for name, operator in _operators().items():
        visitor = _Places(operator)
        visitor.walk(tree)
        for number, line in enumerate(visitor.lines):
            found[line].append((name, number))
    return dict(found)


def changed(file: Path, line: int, operator: str, number: int) -> SourceChange | None:
    """Make one change; None where the program stays the same, or is none any more."""
    before = file.read_text("utf-8")
    text = mutate_code(before, _operators()[operator], number)
    try:
        if text is None or program_of(text) == program_of(before):
            return None
    except SyntaxError:
        return None
    return SourceChange(file.relative_to(TOP).as_posix(), line, operator, text)


def program_of(text: str) -> str:
    """What is executed: annotations are only read in the fields of a form, and docstrings change nothing."""
    tree = ast.parse(text)
    forms = [node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    read = {id(line) for form in forms if form.bases and not form.decorator_list for line in form.body}
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef() | ast.AsyncFunctionDef():
                node.returns = None
            case ast.arg():
                node.annotation = None
            case ast.AnnAssign() if id(node) not in read:
                node.annotation = ast.Constant(None)
    return ast.dump(tree)


def sample(files: Sequence[Path], count: int, seed: int) -> list[SourceChange]:
    """Choose changes by chance: first a line, then one of its changes, so that no operator outnumbers the others.

    Args:
        files: The files to change.
        count: Number of changes; fewer where no more lines can be changed.
        seed: Seed of the choice.
    """
    dice, known = random.Random(seed), dict[Path, dict[int, list[tuple[str, int]]]]()
    lines = [(file, n) for file in files for n in range(1, len(file.read_text("utf-8").splitlines()) + 1)]
    dice.shuffle(lines)

    def made() -> Iterator[SourceChange]:
        for file, line in lines:
            if file not in known:
                known[file] = places(file)
            one = _one_of(file, line, known[file].get(line, ()), dice)
            if one is not None:
                yield one

    return list(islice(made(), count))


def _one_of(
    file: Path, line: int, options: Iterable[tuple[str, int]], dice: random.Random
) -> SourceChange | None:
    """One change of a line, or None where all of them leave the program the same."""
    shuffled = list(options)
    dice.shuffle(shuffled)
    made = (changed(file, line, operator, number) for operator, number in shuffled)
    return next((one for one in made if one is not None), None)
