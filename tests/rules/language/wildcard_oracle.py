"""Oracle of the wildcard: a condition with every `*` and `any` written out, from the definition alone.

The definition: names whose `*` takes the same words have one `*`; its scope is the smallest condition that contains all
of them; there it means that the condition holds for every word.  Under `any` it means that it holds for one.

Takes: a `ConditionExpr` and the words of each name.  Gives: a `ConditionExpr` without `*` and without `any`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from typing import Any, TypeAlias, cast, get_args

from rules.language import syntax
from rules.language.parser import children

Words: TypeAlias = Callable[[str], tuple[str, ...]]
_CONDITIONS = get_args(syntax.ConditionExpr)


def written_out(condition: syntax.ConditionExpr, words: Words) -> syntax.ConditionExpr:
    """Write out every `any`, from the inside, then every `*`, that with the smallest scope first.

    Args:
        condition: As parsed.
        words: Gives the words of a name with a `*`.
    """
    node = _without_any(condition, words)
    while groups := {frozenset(words(name)) for name in _names(node)}:
        _, group = max((_depth(node, one, words), sorted(one)) for one in groups)
        node = _at_scope(node, frozenset(group), words)
    return cast("syntax.ConditionExpr", node)


def _without_any(node: syntax.SyntaxNode, words: Words) -> syntax.SyntaxNode:
    """Write out every `any`."""
    node = _rebuilt(node, lambda part: _without_any(part, words))
    if not isinstance(node, syntax.AnyExpr):
        return node
    group = frozenset(words(next(_names(node))))
    return syntax.OrExpr(tuple(_with_word(node.part, group, word, words) for word in sorted(group)))  # type: ignore[misc]


def _depth(node: syntax.SyntaxNode, group: frozenset[str], words: Words) -> int:
    """Depth of the scope of one `*`."""
    inner = _part_with_all(node, group, words)
    return 1 + _depth(inner, group, words) if inner else 0


def _at_scope(node: syntax.SyntaxNode, group: frozenset[str], words: Words) -> syntax.SyntaxNode:
    """Write out one `*` at its scope."""
    inner = _part_with_all(node, group, words)
    if inner is not None:
        return _rebuilt(node, lambda part: _at_scope(part, group, words) if part is inner else part)
    return syntax.AndExpr(tuple(_with_word(node, group, word, words) for word in sorted(group)))  # type: ignore[misc]


def _part_with_all(node: syntax.SyntaxNode, group: frozenset[str], words: Words) -> syntax.SyntaxNode | None:
    """Part of a node in which a condition contains every name with this `*`; None where the node is the smallest."""
    own = _count(node, group, words)
    for part in children(node):
        holds_one = isinstance(part, _CONDITIONS) or _part_with_all(part, group, words) is not None
        if _count(part, group, words) == own and holds_one:
            return part
    return None


def _count(node: syntax.SyntaxNode, group: frozenset[str], words: Words) -> int:
    """Number of names with this `*`."""
    return sum(frozenset(words(name)) == group for name in _names(node))


def _names(node: syntax.SyntaxNode) -> Iterator[str]:
    """Names with a `*` anywhere below a node."""
    if isinstance(node, syntax.NameExpr) and "*" in node.path:
        yield node.path
    if isinstance(node, syntax.IsExpr):
        yield from (word for word in node.words if "*" in word)
    for part in children(node):
        yield from _names(part)


def _with_word(node: syntax.SyntaxNode, group: frozenset[str], word: str, words: Words) -> syntax.SyntaxNode:
    """Put a word in the place of one `*`."""

    def put(path: str) -> str:
        return path.replace("*", word) if "*" in path and frozenset(words(path)) == group else path

    if isinstance(node, syntax.NameExpr):
        return replace(node, path=put(node.path))
    node = _rebuilt(node, lambda part: _with_word(part, group, word, words))
    return replace(node, words=tuple(map(put, node.words))) if isinstance(node, syntax.IsExpr) else node


def _rebuilt(
    node: syntax.SyntaxNode, change: Callable[[syntax.SyntaxNode], syntax.SyntaxNode]
) -> syntax.SyntaxNode:
    """Copy of a node with its parts changed."""
    changed: dict[str, Any] = {}
    for slot in fields(node):
        value = getattr(node, slot.name)
        if isinstance(value, syntax.SyntaxNode):
            changed[slot.name] = change(value)
        elif isinstance(value, tuple):
            changed[slot.name] = tuple(change(v) if isinstance(v, syntax.SyntaxNode) else v for v in value)
    return replace(node, **changed)
