"""Objects inside objects become dotted names, lists numbered ones.

Takes: what a JSON or MessagePack parser gave.  Gives: flat fields, or `Unreadable`.
"""

from __future__ import annotations

from adapters.decoders.base import NAMES_AT_MOST, Raw, Unreadable

DEEPEST = 8


def flatten(tree: object) -> dict[str, Raw]:
    """The leaves of a tree by dotted name.

    Args:
        tree: A mapping with text for keys; leaves are numbers, texts, truth values and None.

    Raises:
        Unreadable: It is not a mapping, too deep, too wide, or has other keys or leaves.
    """
    if not isinstance(tree, dict):
        raise Unreadable("not an object", f"{_kind(tree)}, expected names with values")
    fields: dict[str, Raw] = {}
    _walk(tree, "", 0, fields)
    return fields


def _walk(node: object, name: str, depth: int, fields: dict[str, Raw]) -> None:
    """Put what is below one node into the fields."""
    if depth > DEEPEST:
        raise Unreadable("nested too deep", f"more than {DEEPEST} levels")
    if isinstance(node, dict):
        for key, below in node.items():
            if not isinstance(key, str):
                raise Unreadable(
                    "a key that is not text", f"{_kind(key)} as key in {name or 'the outer map'}"
                )
            _walk(below, f"{name}.{key}" if name else key, depth + 1, fields)
    elif isinstance(node, list):
        for index, below in enumerate(node):
            _walk(below, f"{name}[{index}]", depth + 1, fields)
    elif node is None or isinstance(node, float | int | str):
        _put(name, node, fields)
    else:
        raise Unreadable("a value of a kind that is not used here", f"{name} is {_kind(node)}")


def _put(name: str, leaf: Raw, fields: dict[str, Raw]) -> None:
    """One leaf; two ways to the same name are refused."""
    if name in fields:
        raise Unreadable("the same key twice", name[:60])
    if len(fields) >= NAMES_AT_MOST:
        raise Unreadable("too many fields", f"more than {NAMES_AT_MOST}")
    fields[name] = leaf


def _kind(value: object) -> str:
    """What a value is, in the words of these formats."""
    names = {
        bytes: "binary",
        list: "a list",
        int: "a number",
        float: "a number",
        str: "text",
        bool: "true or false",
    }
    return names.get(type(value), "nothing" if value is None else "something else")
