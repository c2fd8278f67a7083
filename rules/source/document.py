"""One file as it was written: its plain data, and the place of everything in it.

Takes: a path, or text and the name it goes by.  Gives: `Source`.
"""

from __future__ import annotations

from pathlib import Path

from rules.faults import InputFaults, Place
from rules.source.scalar_offsets import source_offsets
from rules.source.text import SourceText, read_text
from rules.source.yaml_tree import Key, PlainData, SourceNode, build_tree


class SourceDocument:
    """What a file says, with positions.  `data` is made of str, int, float, bool, None, list and dict."""

    def __init__(self, text: SourceText, root: SourceNode | None) -> None:
        """Keep the tree beside the text."""
        self.file = text.file
        self.data: PlainData = root.data if root else None
        self._text = text
        self._root = root or SourceNode(0, 0, None)

    def place(self, path: tuple[Key, ...], *, key: bool = False) -> Place:
        """Where a value stands, or its key.

        Args:
            path: keys and list numbers from the root; a part that is not there is passed over, so that
                what is missing is placed at what it is missing from.
            key: the place of the key (of an entry in a list: of the entry).
        """
        value, its_key = self._find(path)
        return self._text.place((its_key or value).start if key else value.start)

    def place_in_text(self, path: tuple[Key, ...], offset: int) -> Place:
        """Where one character of a text stands, through quotes, escapes and several lines.

        Args:
            path: as for `place`.
            offset: from 0, in the text as read; its length is the place after it.
        """
        node, _ = self._find(path)
        raw = self._text.text[node.start : node.end]
        found = source_offsets(raw, node.style, node.text) if node.text else []
        shift = found[max(0, min(offset, len(found) - 1))] if found else 0
        return self._text.place(node.start + shift)

    def value_at(self, path: tuple[Key, ...]) -> PlainData:
        """The data at a path; None where there is none."""
        node: SourceNode | None = self._root
        for part in path:
            node = node.children.get(part) if node else None
        return node.data if node else None

    def _find(self, path: tuple[Key, ...]) -> tuple[SourceNode, SourceNode | None]:
        """The node at a path, or the nearest on the way to it, with its key."""
        node, key = self._root, None
        for part in path:
            if part in node.children:
                node, key = node.children[part], node.keys.get(part)
        return node, key


def read_source(path: Path, file: str = "") -> SourceDocument:
    """Read a YAML or JSON file.

    Args:
        path: the file.
        file: the name that faults give it; the path, if ''.

    Raises:
        InputFaults: it cannot be read, or is not what it should be; every fault, in the order of the file.
    """
    return _build_document(read_text(path, file))


def parse_source(text: str, file: str) -> SourceDocument:
    """Read YAML (or JSON, where the name ends in `.json`) that is not in a file of its own.

    Raises:
        InputFaults: as for `read_source`.
    """
    return _build_document(SourceText(text, file))


def _build_document(text: SourceText) -> SourceDocument:
    """Build, and refuse if anything is wrong."""
    root, faults = build_tree(text)
    if faults:
        raise InputFaults(sorted(faults, key=lambda fault: (fault.place.line, fault.place.column)))
    return SourceDocument(text, root)
