"""Stars: which names of a condition have a `*`, and the words that it stands for.

Takes: conditions as written.  Gives: names with a `*`, and their words in the order of the book.
"""

from __future__ import annotations

from rules.language import tree
from rules.language.check.names import Desk
from rules.language.parse import children

_CLAIMS = (tree.Compare, tree.Is, tree.InRange, tree.Near, tree.Occurred, tree.Recent, tree.Order, tree.Since)


def stars(node: tree.Node) -> list[tree.Name]:
    """Every name with a `*` in a condition, in the order of the text; an `any` inside keeps its own."""
    return [name for part in _within(node, whole=True) for name in _own(part)]


def direct_stars(node: tree.Condition) -> list[tree.Name]:
    """Those names that stand in a comparison or event itself, not in a condition inside it."""
    if not isinstance(node, _CLAIMS):
        return []
    return [name for part in _within(node, whole=False) for name in _own(part)]


def _within(node: tree.Node, *, whole: bool) -> list[tree.Node]:
    """A node and those below it, stopping at `any` and, where not `whole`, at conditions."""
    found = [node]
    for child in children(node):
        if not isinstance(child, tree.AnyOf) and (whole or not isinstance(child, _CONDITIONS)):
            found.extend(_within(child, whole=whole))
    return found


_CONDITIONS = (*_CLAIMS, tree.All, tree.Either, tree.Opposite, tree.Implies, tree.Held)


def _own(node: tree.Node) -> list[tree.Name]:
    """The names with a `*` that a node itself is or has among its words."""
    if isinstance(node, tree.Name):
        return [node] if "*" in node.path else []
    if isinstance(node, tree.Is):
        pairs = zip(node.words, node.marks, strict=False)
        return [tree.Name(word, at=at) for word, at in pairs if "*" in word]
    return [tree.Name(node.word, at=node.at)] if isinstance(node, tree.Became) and "*" in node.word else []


def matches(desk: Desk, names: list[tree.Name]) -> list[str]:
    """The words that `*` stands for in all of these names, without inoperative signals.

    Args:
        desk: Where faults are noted, and what was left out.
        names: Names with a `*`.

    Returns:
        The words in the order of the book; none where a fault was noted or all are inoperative.
    """
    fits: list[tuple[str, ...]] = []
    for name in names:
        words = desk.scope.fits(name.path) if _one_star(desk, name) else ()
        if not words:
            return []
        fits.append(words)
    common = [word for word in fits[0] if all(word in other for other in fits)]
    if not common:
        paths = " and ".join(dict.fromkeys(name.path for name in names))
        desk.fault(names[0].at, f"no word fits the `*` of {paths}", "names that share a word")
    return [word for word in common if _operative(desk, names, word)]


def _one_star(desk: Desk, name: tree.Name) -> bool:
    """Whether a name has one `*` and fits something; notes a fault where not."""
    if name.path.count("*") > 1:
        desk.fault(name.at, f"{name.path} has more than one `*`", "one `*` in a name")
        return False
    if not desk.scope.fits(name.path):
        near = desk.scope.nearest(name.path)
        desk.fault(
            name.at,
            f"no name fits {name.path}",
            "one signal or more",
            f"did you mean {near}?" if near else "",
        )
        return False
    return True


def _operative(desk: Desk, names: list[tree.Name], word: str) -> bool:
    """Whether no signal is inoperative with this word; notes those that are."""
    out = [path for name in names if desk.scope.is_inoperative(path := name.path.replace("*", word))]
    desk.left_out.extend(path for path in out if path not in desk.left_out)
    return not out
