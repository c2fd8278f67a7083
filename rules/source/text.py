"""Text of a file, with the line and column of each character.

Takes: a path.  Gives: `SourceText`, or `InputFaults` that say why the file cannot be read.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate
from pathlib import Path

from rules.faults import Fault, InputFaults, Place
from rules.source.suggestions import did_you_mean

MAX_BYTES = 2_000_000
MAX_LINE_LENGTH = 240
"""Maximum length of a line that is shown whole; under a longer one the caret is hard to find."""


class SourceText:
    """Text with the name of its file; converts a character's offset to a place."""

    def __init__(self, text: str, file: str) -> None:
        """Record where the lines begin."""
        self.text = text
        self.file = file
        lines = text.split("\n")
        self._starts = list(accumulate((len(line) + 1 for line in lines[:-1]), initial=0))

    def place(self, offset: int) -> Place:
        """Give the line and column of a character, with the text of its line.

        Args:
            offset: from 0; past the end counts as the end.
        """
        offset = max(0, min(offset, len(self.text)))
        row = bisect_right(self._starts, offset) - 1
        start = self._starts[row]
        stop = self.text.find("\n", start)
        line = self.text[start : stop if stop >= 0 else None].rstrip("\r").replace("\t", " ")
        column = offset - start + 1
        if len(line) > MAX_LINE_LENGTH:
            line = line[:MAX_LINE_LENGTH] if column <= MAX_LINE_LENGTH else ""
        return Place(self.file, row + 1, column, line)


def read_text(path: Path, file: str = "") -> SourceText:
    """Read a file as UTF-8.

    Args:
        path: the file.
        file: the name that faults show; the path, if ''.

    Returns:
        Its text without a byte order mark.

    Raises:
        InputFaults: no such file, a folder, not readable, too big, not UTF-8.
    """
    file = file or str(path)
    try:
        raw = path.read_bytes() if path.stat().st_size <= MAX_BYTES else None
    except (OSError, ValueError) as error:
        raise InputFaults([_read_fault(path, file, error)]) from error
    if raw is None or len(raw) > MAX_BYTES:
        raise InputFaults([Fault(Place(file), "the file is too big", f"at most {MAX_BYTES} bytes")])
    try:
        return SourceText(raw.decode("utf-8-sig"), file)
    except UnicodeDecodeError as error:
        raise InputFaults([_encoding_fault(raw, file, error)]) from error


def _read_fault(path: Path, file: str, error: Exception) -> Fault:
    """Describe why the operating system could not read the file."""
    if isinstance(error, FileNotFoundError):
        return Fault(Place(file), "no such file", hint=_similar_name_hint(path))
    if isinstance(error, IsADirectoryError):
        return Fault(Place(file), "this is a folder", "a file")
    if isinstance(error, NotADirectoryError):
        return Fault(Place(file), "a part of this path is a file", "a folder")
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return Fault(Place(file), f"the file cannot be read: {reason or error}")


def _similar_name_hint(path: Path) -> str:
    """Suggest a file of a similar name in the same folder."""
    try:
        beside = [other.name for other in path.parent.iterdir()]
    except (OSError, ValueError):
        return ""
    return did_you_mean(path.name, beside)


def _encoding_fault(raw: bytes, file: str, error: UnicodeDecodeError) -> Fault:
    """Place the first byte that is not UTF-8, with the text before it on the line."""
    start = raw.rfind(b"\n", 0, error.start) + 1
    line = raw.count(b"\n", 0, error.start) + 1
    before = raw[start : error.start].decode("utf-8-sig", "replace")
    what = f"byte {error.start} (0x{raw[error.start]:02x}) is not UTF-8"
    text = before + "\N{REPLACEMENT CHARACTER}" if len(before) < MAX_LINE_LENGTH else ""
    return Fault(Place(file, line, len(before) + 1, text), what, "text in UTF-8")
