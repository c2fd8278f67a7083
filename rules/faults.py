"""Faults in files and in the links, with the place and a hint for the repair.

    HoldshortError            every error that we raise on purpose
    ├── InputFaults           a file or text is wrong (one or more faults)
    └── LinkError             a link failed: port in use, peer gone   (adapters)

A malformed datagram is not an exception but a value (see adapters), because it must not stop reception.

Takes: a position and three sentences.  Gives: `Fault`, and the errors that carry faults.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rules.words import printable


@dataclass(frozen=True, slots=True)
class Place:
    """Position in a file: 1-based line and column, and the text of that line for the caret."""

    file: str
    line: int = 0
    column: int = 0
    text: str = ""

    def __str__(self) -> str:
        """Format as `file`, `file:line` or `file:line:column`, as far as known."""
        parts = [self.file, *(str(n) for n in (self.line, self.column) if n)]
        return ":".join(parts)


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake: its place, the problem, the expected input, and a hint where there is one."""

    place: Place
    what: str
    expected: str = ""
    hint: str = ""

    def __str__(self) -> str:
        """Format the fault for printing: head line, source line, caret, hint."""
        head = f"{self.place}: {self.what}"
        lines = [head + (f", expected {self.expected}" if self.expected else "")]
        if self.place.text:
            lines.append(f"    {self.place.text}")
            if self.place.column:
                lines.append("    " + " " * (self.place.column - 1) + "^")
        if self.hint:
            lines.append(f"    hint: {self.hint}")
        return printable("\n".join(lines), keep="\n")


class HoldshortError(Exception):
    """Base class of every error that we raise on purpose."""


class InputFaults(HoldshortError):  # noqa: N818 - many faults in one error, each of them a Fault
    """Mistakes in a file or text; carries all of them, not only the first."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        """Store the faults in the order of the file."""
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class LinkError(HoldshortError):
    """A link could not be opened or was lost; the message names it and says what to try."""
