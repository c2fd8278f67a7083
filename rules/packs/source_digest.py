"""A hash of what a pack says, by which a recording shows whether two packs have the same rules.

Takes: the merged layer of a pack, its signals, and what is dispatched inoperative.  Gives: the hash as text.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any

import msgspec

from rules.packs.read_folder import PackLayer
from rules.packs.sourced import PackEntry
from rules.signals.model import Signal

_LEFT_OUT = frozenset({"extends", "signals"})
"""Keys of the head that name other files; the contents of those are part of the hash."""


def source_digest(layer: PackLayer, signals: Iterable[Signal], inoperative: Iterable[str]) -> str:
    """Hash the contents of a pack after merging: SHA-256 in hexadecimal digits.

    The hash is taken from the keys and values of the files, not from the classes that hold them, so that it stays the
    same when a class or an attribute gets another name.  The order of entries counts, that of keys within one does not.

    Args:
        layer: The pack and all that it extends, merged.
        signals: Signals of the books and of the pack itself.
        inoperative: Signals that the trip sheet dispatches inoperative.
    """
    head = {name: given.value for name, given in layer.header.fields.items() if name not in _LEFT_OUT}
    contents = {
        "pack": head,
        "sections": {name: _entries(section.values()) for name, section in layer.sections.items() if section},
        "signals": [_signal(signal) for signal in signals],
        "inoperative": list(inoperative),
    }
    return hashlib.sha256(msgspec.json.encode(contents, enc_hook=str, order="deterministic")).hexdigest()


def _entries(entries: Iterable[PackEntry]) -> list[Any]:
    """Entries in their order, each as its id, its values by key, and its parts."""
    return [
        [
            entry.id,
            {name: given.value for name, given in entry.fields.items()},
            _entries(entry.parts.values()),
        ]
        for entry in entries
    ]


def _signal(signal: Signal) -> dict[str, Any]:
    """A signal by the keys of signal books."""
    return {
        "name": signal.name, "kind": str(signal.kind), "chapter": signal.chapter, "label": signal.label,
        "means": signal.meaning, "unit": signal.unit, "range": [signal.low, signal.high], "words": signal.words,
        "text": signal.max_length, "max_age": signal.max_age_s,
    } | ({"phrases": signal.phrases} if signal.phrases else {})  # fmt: skip
