"""Contents of one file: its plain data, and the position of every value.

Takes: a path, or text and its name.  Gives: `SourceDocument`.
"""

from __future__ import annotations

from pathlib import Path

from rules.faults import InputFaults, Place
from rules.source.scalar_offsets import source_offsets
from rules.source.text import SourceText, read_text
from rules.source.yaml_tree import Key, PlainData, SourceNode, build_tree


class SourceDocument:
    """Data of one file with positions; `data` consists of str, int, float, bool, None, list and dict."""

    def __init__(self, text: SourceText, root: SourceNode | None) -> None:
        """Store the tree beside the text."""
        self.file = text.file
        self.data: PlainData = root.data if root else None
        self._text = text
        self._root = root or SourceNode(0, 0, None)

    def place(self, path: tuple[Key, ...], *, key: bool = False) -> Place:
        """Find the position of a value, or of its key.

        Args:
            path: keys and list numbers from the root; a part that does not exist is skipped, so that a
                missing value gets the place of its parent.
            key: True for the place of the key (of a list entry: of the entry).
        """
        value, its_key = self._find(path)
        return self._text.place((its_key or value).start if key else value.start)

    def place_in_text(self, path: tuple[Key, ...], offset: int) -> Place:
        """Find the position of one character of a text, through quotes, escapes and line breaks.

        Args:
            path: as for `place`.
            offset: from 0, in the text as read; its length is the place after the last character.
        """
        node, _ = self._find(path)
        raw = self._text.text[node.start : node.end]
        found = source_offsets(raw, node.style, node.text) if node.text else []
        shift = found[max(0, min(offset, len(found) - 1))] if found else 0
        return self._text.place(node.start + shift)

    def value_at(self, path: tuple[Key, ...]) -> PlainData:
        """Give the data at a path; None where there is none."""
        node: SourceNode | None = self._root
        for part in path:
            node = node.children.get(part) if node else None
        return node.data if node else None

    def _find(self, path: tuple[Key, ...]) -> tuple[SourceNode, SourceNode | None]:
        """Find the node at a path, or its nearest existing ancestor, with its key."""
        node, key = self._root, None
        for part in path:
            if part in node.children:
                node, key = node.children[part], node.keys.get(part)
        return node, key


def read_source(path: Path, file: str = "") -> SourceDocument:
    """Read a YAML or JSON file.

    Args:
        path: the file.
        file: the name that faults show; the path, if ''.

    Raises:
        InputFaults: the file cannot be read or is not valid; every fault, in the order of the file.
    """
    return _build_document(read_text(path, file))


def parse_source(text: str, file: str) -> SourceDocument:
    """Parse YAML (or JSON, where the name ends in `.json`) from a string.

    Raises:
        InputFaults: as for `read_source`.
    """
    return _build_document(SourceText(text, file))


def _build_document(text: SourceText) -> SourceDocument:
    """Build the document, or raise all its faults."""
    root, faults = build_tree(text)
    if faults:
        raise InputFaults(sorted(faults, key=lambda fault: (fault.place.line, fault.place.column)))
    return SourceDocument(text, root)
