"""Wildcards: the names of a condition with a `*`, and the words that it represents.

Takes: conditions as written.  Gives: names with a `*`, and their words in the order of the book.
"""

from __future__ import annotations

from rules.language import syntax
from rules.language.check.context import CheckContext
from rules.language.parser import children
from rules.source import hint_of

_LEAF_CONDITIONS = (
    syntax.CompareExpr,
    syntax.IsExpr,
    syntax.InRangeExpr,
    syntax.WithinExpr,
    syntax.OccurredExpr,
    syntax.WithinLastExpr,
    syntax.BeforeAfterExpr,
    syntax.SinceExpr,
)


def wildcard_names(node: syntax.SyntaxNode) -> list[syntax.NameExpr]:
    """Give every name with a `*` in a condition, in the order of the text; an inner `any` has its own."""
    return [name for part in _nodes_below(node, deep=True) for name in _own_wildcards(part)]


def direct_wildcard_names(node: syntax.ConditionExpr) -> list[syntax.NameExpr]:
    """Give the names with a `*` that belong to a comparison or event itself, not to a condition inside it."""
    if not isinstance(node, _LEAF_CONDITIONS):
        return []
    return [name for part in _nodes_below(node, deep=False) for name in _own_wildcards(part)]


def _nodes_below(node: syntax.SyntaxNode, *, deep: bool) -> list[syntax.SyntaxNode]:
    """Give a node and those below it, down to `any` and, where not `deep`, to conditions."""
    found = [node]
    for child in children(node):
        if not isinstance(child, syntax.AnyExpr) and (deep or not isinstance(child, _CONDITIONS)):
            found.extend(_nodes_below(child, deep=deep))
    return found


_CONDITIONS = (
    *_LEAF_CONDITIONS,
    syntax.AndExpr,
    syntax.OrExpr,
    syntax.NotExpr,
    syntax.ImpliesExpr,
    syntax.ForExpr,
)


def _own_wildcards(node: syntax.SyntaxNode) -> list[syntax.NameExpr]:
    """Give the names with a `*` of one node, its words included."""
    if isinstance(node, syntax.NameExpr):
        return [node] if "*" in node.path else []
    if isinstance(node, syntax.IsExpr):
        pairs = zip(node.words, node.part_offsets, strict=False)
        return [syntax.NameExpr(word, offset=at) for word, at in pairs if "*" in word]
    return (
        [syntax.NameExpr(node.word, offset=node.offset)]
        if isinstance(node, syntax.BecameExpr) and "*" in node.word
        else []
    )


def matching_words(context: CheckContext, names: list[syntax.NameExpr]) -> list[str]:
    """Give the words that `*` represents in all of these names, without inoperative signals.

    Args:
        context: Collects the problems, and the signals left out.
        names: Names with a `*`.

    Returns:
        The words in the order of the book; none after a problem or where all are inoperative.
    """
    fits: list[tuple[str, ...]] = []
    for name in names:
        words = context.scope.matching_words(name.path) if _check_wildcard(context, name) else ()
        if not words:
            return []
        fits.append(words)
    common = [word for word in fits[0] if all(word in other for other in fits)]
    if not common:
        paths = " and ".join(dict.fromkeys(name.path for name in names))
        context.add_problem(names[0].offset, f"no word fits the `*` of {paths}", "names that share a word")
    return [word for word in common if _check_operative(context, names, word)]


def _check_wildcard(context: CheckContext, name: syntax.NameExpr) -> bool:
    """Check that a name has one `*` and matches a signal."""
    if name.path.count("*") > 1:
        context.add_problem(name.offset, f"{name.path} has more than one `*`", "one `*` in a name")
        return False
    if not context.scope.matching_words(name.path):
        near = context.scope.nearest(name.path)
        context.add_problem(
            name.offset,
            f"no name fits {name.path}",
            "one signal or more",
            hint_of(near),
        )
        return False
    return True


def _check_operative(context: CheckContext, names: list[syntax.NameExpr], word: str) -> bool:
    """Check that no signal is inoperative with this word; records those that are."""
    out = [path for name in names if context.scope.is_inoperative(path := name.path.replace("*", word))]
    context.inoperative.extend(path for path in out if path not in context.inoperative)
    return not out
