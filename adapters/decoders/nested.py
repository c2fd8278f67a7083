"""Flattens nested objects to dotted names and list elements to numbered ones.

Takes: the tree from a JSON or MessagePack parser.  Gives: flat fields, or `UnreadableError`.
"""

from __future__ import annotations

from adapters.decoders.base import MAX_FIELDS, RawValue, UnreadableError, check_names

MAX_DEPTH = 8
"""Levels of objects inside objects at most."""


def flatten(tree: object) -> dict[str, RawValue]:
    """Map each leaf of a tree by its dotted name.

    Args:
        tree: A mapping with text keys; leaves are numbers, texts, truth values and None.

    Raises:
        UnreadableError: The tree is not a mapping, is too deep or too wide, or has other keys or leaves.
    """
    if not isinstance(tree, dict):
        raise UnreadableError("not an object", f"{_type_name(tree)}, expected names with values")
    fields: dict[str, RawValue] = {}
    _walk(tree, "", 0, fields)
    return fields


def _walk(node: object, name: str, depth: int, fields: dict[str, RawValue]) -> None:
    """Add the leaves below one node to the fields."""
    check_names((name,))  # before it is repeated in each name below
    if depth > MAX_DEPTH:
        raise UnreadableError("nested too deep", f"more than {MAX_DEPTH} levels")
    if isinstance(node, dict):
        for key, below in node.items():
            if not isinstance(key, str):
                raise UnreadableError(
                    "key is not text", f"{_type_name(key)} as key in {name or 'the outer map'}"
                )
            _walk(below, f"{name}.{key}" if name else key, depth + 1, fields)
    elif isinstance(node, list):
        for index, below in enumerate(node):
            _walk(below, f"{name}[{index}]", depth + 1, fields)
    elif node is None or isinstance(node, float | int | str):
        _add_leaf(name, node, fields)
    else:
        raise UnreadableError("unsupported type of value", f"{name} is {_type_name(node)}")


def _add_leaf(name: str, leaf: RawValue, fields: dict[str, RawValue]) -> None:
    """Add one leaf; refuse a second one with the same dotted name."""
    if name in fields:
        raise UnreadableError("duplicate key", name[:60])
    if len(fields) >= MAX_FIELDS:
        raise UnreadableError("too many fields", f"more than {MAX_FIELDS}")
    fields[name] = leaf


def _type_name(value: object) -> str:
    """Name the type of a value in the words of these formats."""
    names = {
        bytes: "binary",
        list: "a list",
        int: "a number",
        float: "a number",
        str: "text",
        bool: "true or false",
    }
    return names.get(type(value), "null" if value is None else "another type")
