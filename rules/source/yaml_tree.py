"""Tree of a YAML document: plain data, and the position of every key and value.

The parser is ruamel.yaml's; the tree is built from its events, so that duplicate keys, aliases that
multiply, and deep nesting are refused before they cost time or memory.

Takes: `SourceText`.  Gives: the root `SourceNode` and all faults.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from rules.faults import Fault, InputFaults
from rules.source.scalars import resolve_scalar
from rules.source.syntax_errors import syntax_fault
from rules.source.text import SourceText
from rules.words import is_printable

PlainData: TypeAlias = "str | int | float | bool | list[PlainData] | dict[str | int, PlainData] | None"
Key: TypeAlias = str | int

MAX_DEPTH = 40
MAX_VALUES = 300_000
"""Maximum number of values in a document with every alias expanded; more is an attack or a mistake."""

MAX_WRITTEN = 30_000
"""Maximum number of keys and values as they are written: a second of reading; the largest file of ours has a tenth."""

_TAG_PREFIX = "tag:yaml.org,2002:"
_TAG_TYPES: dict[str, tuple[type, ...]] = {
    "int": (int,), "float": (int, float), "bool": (bool,), "null": (type(None),),
}  # fmt: skip


@dataclass(slots=True)
class SourceNode:
    """Value with its place: offsets of its first character and of the one after its last.

    `keys` and `children` contain a mapping's key nodes and value nodes by key; a list has its `children`
    by number.
    """

    start: int
    end: int
    data: PlainData
    style: str = ""
    text: str = ""
    keys: dict[Key, SourceNode] = field(default_factory=dict)
    children: dict[Key, SourceNode] = field(default_factory=dict)
    count: int = 1


class TreeBuilder:
    """Builds the tree from the parser's events, without recursion."""

    def __init__(self, text: SourceText) -> None:
        """Start with an empty tree."""
        self.faults: list[Fault] = []
        self.root: SourceNode | None = None
        self._text = text
        self._json = text.file.endswith(".json")
        self._open: list[tuple[SourceNode, SourceNode | None, str]] = []
        self._anchors: dict[str, SourceNode] = {}
        self._written = 0

    def handle(self, event: Event) -> None:
        """Handle one event of the parser."""
        self._written += isinstance(event, NodeEvent)
        if self._written > MAX_WRITTEN:
            self._abort(event.start_mark.index, "too many keys and values", f"at most {MAX_WRITTEN}")
        if isinstance(event, DocumentStartEvent):
            self._begin_document(event)
        elif isinstance(event, ScalarEvent):
            self._add_scalar(event, self._scalar(event))
        elif isinstance(event, MappingStartEvent):
            self._begin(event, {})
        elif isinstance(event, SequenceStartEvent):
            self._begin(event, [])
        elif isinstance(event, AliasEvent):
            self._alias(event)
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            self._end(event)

    def _begin_document(self, event: DocumentStartEvent) -> None:
        """Refuse a second document in a file, and versions of YAML other than 1.2."""
        if self.root is not None:
            self._abort(event.start_mark.index, "a second document begins here", "one document in a file")
        if event.version not in (None, (1, 2)):
            self._abort(event.start_mark.index, "a %YAML directive for another version", "YAML 1.2")

    def _begin(self, event: MappingStartEvent | SequenceStartEvent, data: PlainData) -> None:
        """Open a mapping or list."""
        start = event.start_mark.index
        if len(self._open) >= MAX_DEPTH:
            self._abort(start, "the nesting is too deep", f"at most {MAX_DEPTH} levels")
        if event.tag and event.tag not in (_TAG_PREFIX + "map", _TAG_PREFIX + "seq", "!"):
            self._fault(start, f"tag {event.tag} is not used here", "plain YAML without tags")
        self._open.append((SourceNode(start, start, data), None, event.anchor or ""))

    def _end(self, event: Event) -> None:
        """Close the innermost mapping or list."""
        node, _, anchor = self._open.pop()
        node.end = event.end_mark.index
        if node.count > MAX_VALUES:
            self._abort(node.start, "too many values", f"at most {MAX_VALUES}, aliases written out")
        if anchor:
            self._anchors[anchor] = node
        self._add(node)

    def _add_scalar(self, event: ScalarEvent, node: SourceNode) -> None:
        """Add a scalar, and store it under its anchor, if it has one."""
        if event.anchor:
            self._anchors[event.anchor] = node
        self._add(node)

    def _alias(self, event: AliasEvent) -> None:
        """Add the anchored node of an alias; refuse an alias inside its own anchor."""
        start = event.start_mark.index
        if any(anchor == event.anchor for _, _, anchor in self._open):
            self._abort(start, f"alias *{event.anchor} is inside its own anchor", "no circle")
        if event.anchor not in self._anchors:
            self._fault(start, f"alias *{event.anchor} names nothing", f"&{event.anchor} before it")
            self._add(SourceNode(start, event.end_mark.index, None))
        else:
            self._add(self._anchors[event.anchor])

    def _scalar(self, event: ScalarEvent) -> SourceNode:
        """Build the node of a scalar."""
        start, end = event.start_mark.index, event.end_mark.index
        node = SourceNode(start, end, event.value, event.style or "", event.value)
        tag = str(event.tag or "")
        if tag not in ("", "!", _TAG_PREFIX + "str") and tag.removeprefix(_TAG_PREFIX) not in _TAG_TYPES:
            self._fault(start, f"tag {tag} is not used here", "plain YAML without tags")
        elif event.style or tag in ("!", _TAG_PREFIX + "str"):
            node.data = node.text = self._join_surrogates(event.value, start)
        else:
            node.data = self._resolve(event.value, start, tag)
        self._check_printable(node.data if isinstance(node.data, str) else event.value, start)
        return node

    def _check_printable(self, text: str, start: int) -> None:
        """Refuse characters that a screen must not get: they come from raw text, and from escapes in quotes."""
        if not text.isprintable():
            for wrong in (c for c in text if c not in "\n\t" and not is_printable(c)):
                self._fault(start, f"character U+{ord(wrong):04X} is not allowed", "printable text")
                break

    def _resolve(self, word: str, start: int, tag: str) -> PlainData:
        """Resolve a plain word; add a fault where it has no value."""
        try:
            value = resolve_scalar(word)
        except ValueError as error:
            self._fault(start, str(error), "a finite number")
            return None
        if tag and not isinstance(value, _TAG_TYPES[tag.removeprefix(_TAG_PREFIX)]):
            self._fault(start, f"{word} does not fit its tag", tag.removeprefix(_TAG_PREFIX))
        if self._json and isinstance(value, str):
            self._fault(start, f"a bare word {word!r} in JSON", "text in double quotes, or a number")
        return value

    def _join_surrogates(self, text: str, start: int) -> str:
        r"""Join surrogate pairs, as JSON writes characters outside the basic plane (\ud83d\ude00)."""
        if text.isascii() or not any("\ud800" <= char <= "\udfff" for char in text):
            return text
        try:
            return text.encode("utf-16", "surrogatepass").decode("utf-16")
        except UnicodeDecodeError:
            self._fault(start, "incomplete surrogate pair", "a whole character")
            return ""

    def _add(self, node: SourceNode) -> None:
        """Add a finished node to its parent."""
        if not self._open:
            self.root = node
            return
        parent, key, anchor = self._open[-1]
        parent.count += node.count
        if isinstance(parent.data, list):
            parent.children[len(parent.data)] = node
            parent.data.append(node.data)
        elif key is None:
            self._open[-1] = (parent, node, anchor)
        else:
            self._open[-1] = (parent, None, anchor)
            self._add_entry(parent, key, node)

    def _add_entry(self, parent: SourceNode, key: SourceNode, node: SourceNode) -> None:
        """Add a value under its key; of two equal keys the first counts."""
        name = key.data
        if not isinstance(name, str | int) or isinstance(name, bool):
            self._fault(key.start, "this cannot be a key", "a word or a whole number", "put it in quotes")
        elif name in parent.keys:
            first = self._text.place(parent.keys[name].start)
            self._fault(key.start, f"duplicate key {name}", f"once; the first is at {first}")
        elif isinstance(parent.data, dict):
            parent.keys[name], parent.children[name] = key, node
            parent.data[name] = node.data

    def _fault(self, offset: int, what: str, expected: str = "", hint: str = "") -> None:
        """Add a fault and continue."""
        self.faults.append(Fault(self._text.place(offset), what, expected, hint))

    def _abort(self, offset: int, what: str, expected: str) -> None:
        """Add a fault and stop reading."""
        self._fault(offset, what, expected)
        raise InputFaults(self.faults)


def build_tree(text: SourceText) -> tuple[SourceNode | None, list[Fault]]:
    """Build the tree of a document.

    Args:
        text: YAML 1.2, or JSON where its file ends in `.json`.

    Returns:
        The root (None for an empty document) and all faults, in the order of the file.
    """
    builder = TreeBuilder(text)
    # JSON may be indented with tabs, which YAML refuses; a space in its place keeps every offset.
    body = text.text.replace("\t", " ") if text.file.endswith(".json") else text.text
    try:
        for event in YAML(typ="safe", pure=True).parse(body):
            builder.handle(event)
    except InputFaults:
        pass
    except (YAMLError, ValueError, IndexError, OverflowError) as error:
        builder.faults.append(syntax_fault(error, text))
    return builder.root, builder.faults
