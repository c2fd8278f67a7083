"""Reads and writes the documents' Markdown: tables, generated parts, links and shell lines.

A generated part is the text between two comments:

    <!-- generated: commands -->
    ...
    <!-- end -->

Takes: text.  Gives: text, or what it contains.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

PART = re.compile(r"(<!-- generated: (?P<name>[\w. ]+) -->\n).*?(<!-- end -->)", re.DOTALL)
SHELL_BLOCK = re.compile(r"^```sh\n(?P<body>.*?)^```", re.DOTALL | re.MULTILINE)
CODE_BLOCK = re.compile(r"^ *```.*?^ *```", re.DOTALL | re.MULTILINE)
CODE_WORD = re.compile(r"`([^`\n]+)`")
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
HEADING = re.compile(r"^#{1,6} +(.*?) *$", re.MULTILINE)


class UnknownPartError(KeyError):
    """A document contains a part that no function generates."""


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a Markdown table.

    Args:
        head: the columns' names.
        rows: one sequence of cells for each row; `|` in a cell is escaped, a line end becomes a blank.
    """
    lines = [head, ["---"] * len(head), *rows]
    return "".join("| " + " | ".join(cell(value) for value in line) + " |\n" for line in lines)


def cell(value: object) -> str:
    """Write one value as a table cell."""
    return " ".join(str(value).split()).replace("|", "\\|")


def code(value: object) -> str:
    """Write a value as code, or nothing for an empty value."""
    return f"`{value}`" if str(value) else ""


def names_of_parts(text: str) -> list[str]:
    """List the names of a document's generated parts."""
    return [match["name"] for match in PART.finditer(text)]


def fill(text: str, parts: Mapping[str, Callable[[], str]]) -> str:
    """Replace each generated part of a document by the present result of its function.

    Raises:
        UnknownPartError: a part has no function.
    """

    def replaced(match: re.Match[str]) -> str:
        if match["name"] not in parts:
            raise UnknownPartError(match["name"])
        return f"{match[1]}\n{parts[match['name']]().strip()}\n\n{match[3]}"

    return PART.sub(replaced, text)


def shell_lines(text: str) -> list[str]:
    """List the command lines of a document's shell blocks, without comments, with continued lines joined."""
    bodies = (block["body"].replace("\\\n", " ") for block in SHELL_BLOCK.finditer(text))
    lines = (line.partition(" #")[0].strip() for body in bodies for line in body.splitlines())
    return [re.sub(r"^\$ ", "", line) for line in lines if line and not line.startswith("#")]


def quoted_commands(text: str, program: str = "holdshort") -> list[str]:
    """List the command lines of a document's shell blocks that call the program."""
    return [line for line in shell_lines(text) if re.match(rf"(\S*/)?{program}( |$)", line)]


def without_code(text: str) -> str:
    """Remove code blocks and code words."""
    return CODE_WORD.sub("", CODE_BLOCK.sub("", text))


def links(text: str) -> list[str]:
    """List the targets of a document's links and images."""
    return LINK.findall(without_code(text))


def anchors(text: str) -> set[str]:
    """Give the anchor of each heading as Markdown renderers make it: small letters, digits, hyphens."""
    found: set[str] = set()
    for title in HEADING.findall(CODE_BLOCK.sub("", text)):
        plain = re.sub(r"[^\w\- ]", "", title.replace("`", "").lower()).replace(" ", "-")
        count = 0
        while (anchor := f"{plain}-{count}" if count else plain) in found:
            count += 1
        found.add(anchor)
    return found


def code_words(text: str) -> list[str]:
    """List the words that the running text writes as code."""
    return CODE_WORD.findall(CODE_BLOCK.sub("", text))
