"""Reads and writes the documents' Markdown: tables, and parts that a program generates.

A generated part stands between two comments:

    <!-- generated: commands -->
    ...
    <!-- end -->

Takes: text.  Gives: text.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

PART = re.compile(r"(<!-- generated: (?P<name>[\w. ]+) -->\n).*?(<!-- end -->)", re.DOTALL)
BLOCK = re.compile(r"^```sh\n(?P<body>.*?)^```", re.DOTALL | re.MULTILINE)


class UnknownPartError(KeyError):
    """A document asks for a part that no function generates."""


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a Markdown table.

    Args:
        head: the columns' names.
        rows: one sequence of cells a row; `|` in a cell is escaped, a line end becomes a blank.
    """
    lines = [head, ["---"] * len(head), *rows]
    return "".join("| " + " | ".join(cell(value) for value in line) + " |\n" for line in lines)


def cell(value: object) -> str:
    """Write one value as a table cell."""
    return " ".join(str(value).split()).replace("|", "\\|")


def code(value: object) -> str:
    """Write a value as code, or nothing where it is empty."""
    return f"`{value}`" if str(value) else ""


def names_of_parts(text: str) -> list[str]:
    """List the generated parts that a document holds."""
    return [match["name"] for match in PART.finditer(text)]


def fill(text: str, parts: Mapping[str, Callable[[], str]]) -> str:
    """Replace each generated part of a document by what its function gives now.

    Raises:
        UnknownPartError: a part has no function.
    """

    def replaced(match: re.Match[str]) -> str:
        if match["name"] not in parts:
            raise UnknownPartError(match["name"])
        return f"{match[1]}\n{parts[match['name']]().strip()}\n\n{match[3]}"

    return PART.sub(replaced, text)


def quoted_commands(text: str, program: str = "holdshort") -> list[str]:
    """List the command lines of a document's shell blocks that call the program, continued lines joined."""
    found = []
    for block in BLOCK.finditer(text):
        for line in block["body"].replace("\\\n", " ").splitlines():
            words = line.partition("#")[0].strip()
            words = re.sub(r"^\$ ", "", words)
            if re.match(rf"(\S*/)?{program}( |$)", words):
                found.append(words)
    return found
