"""Errors of the YAML parser as faults in plain words.

Takes: an error of ruamel.yaml.  Gives: a `Fault` at its place.
"""

from __future__ import annotations

from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.reader import ReaderError

from rules.faults import Fault
from rules.source.text import SourceText

_MESSAGES: tuple[tuple[str, str, str, str], ...] = (
    ("'\\t' that cannot start", "a tab", "spaces for indentation", ""),
    ("found a tab", "a tab", "spaces for indentation", ""),
    (
        "mapping values are not allowed",
        "unexpected colon",
        "one 'key: value' on a line",
        "check the indentation, and put text with ': ' in quotes",
    ),
    ("that cannot start any token", "text cannot begin with this character", "a letter, digit or quote",
     "put the text in quotes"),
    ("could not find expected ':'", "a key without its colon", "'key: value'", ""),
    ("unexpected end of stream", "a quote that is never closed", "a closing quote", ""),
    ("did not find expected ',' or '}'", "a brace that is not closed", "',' or '}'", ""),
    ("expected ',' or '}'", "a brace that is not closed", "',' or '}'", ""),
    ("expected ',' or ']'", "a bracket that is not closed", "',' or ']'", ""),
    ("expected <block end>", "wrong indentation", "the same indentation as the entry before", ""),
    ("expected the node content", "missing value", "a value", ""),
    ("unknown escape character", "an unknown escape in double quotes", "\\\\ for a backslash", ""),
    ("expected escape sequence", "an escape that is cut short", "hexadecimal digits", ""),
)  # fmt: skip


def syntax_fault(error: Exception, text: SourceText) -> Fault:
    """Convert an error of the parser to a fault."""
    if isinstance(error, ReaderError):
        char = error.character if isinstance(error.character, int) else ord(error.character)
        what = f"character U+{char:04X} is not allowed"
        return Fault(text.place(error.position), what, "printable text")
    if not isinstance(error, MarkedYAMLError):
        return Fault(text.place(0), "this cannot be read as YAML", "YAML 1.2", str(error))
    return _fault_at_mark(error, text)


def _fault_at_mark(error: MarkedYAMLError, text: SourceText) -> Fault:
    """Convert an error that has a position, and often the position where the problem began."""
    problem = str(error.problem or error.context or "this cannot be read as YAML")
    mark = error.problem_mark or error.context_mark
    offset = mark.index if mark is not None else 0
    began = error.context_mark.index if error.context_mark is not None else offset
    for sign, what, expected, hint in _MESSAGES:
        if sign in problem:
            if "quote" in what:
                return Fault(text.place(began), what, expected, hint)
            return Fault(text.place(offset), what, expected, hint or _began_hint(began, offset, text))
    return Fault(text.place(offset), problem, hint=_began_hint(began, offset, text))


def _began_hint(began: int, offset: int, text: SourceText) -> str:
    """Give the place where the problem began, if it differs from the place of the error."""
    return f"it began at {text.place(began)}" if began != offset else ""
