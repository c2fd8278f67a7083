"""Wildcards: the names of a condition with a `*`, which of them are one `*`, and the words that it represents.

Names whose `*` takes the same words have one `*`.  Its scope is the smallest condition that contains all of them: there
it is expanded, and one word is put into all of them together.  Where that is an `and`, each of its parts that has the
`*` is expanded for itself, which means the same.  With engines 1 and 2, and doors left and right:

    if engine.*.fire is on then engine.*.valve is closed     scope: the `if`, for engine 1 and for engine 2
    if engine.*.n2 < 5 % then lights.beacon is off           scope: the comparison, so both engines are meant
    if engine.*.n2 > 5 % then door.*.state is closed         two different `*`, each with its comparison
    engine.*.n2 > 5 % and not engine.*.valve is open         scope: the `and`, so the comparison and the `not`

Takes: conditions as written.  Gives: names with a `*`, and their words in the order of the book.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

from rules.language import syntax
from rules.language.check.context import CheckContext, WildcardGroup
from rules.language.parser import children
from rules.source import hint_of
from rules.words import join_and

LEAF_CONDITIONS = (
    syntax.CompareExpr,
    syntax.IsExpr,
    syntax.InRangeExpr,
    syntax.WithinExpr,
    syntax.OccurredExpr,
    syntax.WithinLastExpr,
    syntax.BeforeAfterExpr,
    syntax.DeadlineExpr,
    syntax.SinceExpr,
)
"""Comparisons and statements about events."""

_ONE_OR_ANY = "write out the names of one of them, or put `any` before it"

_CONDITIONS = (
    *LEAF_CONDITIONS,
    syntax.AnyExpr,
    syntax.NumberOfExpr,
    syntax.AndExpr,
    syntax.OrExpr,
    syntax.NotExpr,
    syntax.ImpliesExpr,
    syntax.UnlessExpr,
    syntax.ForExpr,
)


def wildcard_names(node: syntax.SyntaxNode) -> list[syntax.NameExpr]:
    """Give every name with a `*` in a condition, in the order of the text.

    `any`, `at most 1 of` one condition, and `highest of` have their own `*`.
    """
    if isinstance(node, syntax.AnyExpr | syntax.AmongExpr):
        return []
    if isinstance(node, syntax.NumberOfExpr) and len(node.parts) == 1:
        return []
    return [*_own_wildcards(node), *(name for part in children(node) for name in wildcard_names(part))]


def direct_wildcard_names(node: syntax.SyntaxNode) -> list[syntax.NameExpr]:
    """Give the names with a `*` that belong to a comparison or event itself, not to a condition inside it."""
    below = [part for part in children(node) if not isinstance(part, (*_CONDITIONS, syntax.AmongExpr))]
    return [*_own_wildcards(node), *(name for part in below for name in direct_wildcard_names(part))]


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


def groups_bound_at(context: CheckContext, node: syntax.ConditionExpr) -> list[WildcardGroup]:
    """Give the wildcards that are expanded at this condition, without those that have a word already.

    Args:
        context: Collects the problems: names that fit nothing, and different wildcards that look like one.
        node: A condition.
    """
    if isinstance(node, syntax.AndExpr):
        parts_names = [wildcard_names(part) for part in _conditions_below(node)]
        _refuse_look_alikes(context, parts_names, "write out the names of one of them, or split it into two")
        return []
    direct = groups_of(context, direct_wildcard_names(node))
    parts = [groups_of(context, wildcard_names(part)) for part in _conditions_below(node)]
    if not isinstance(node, LEAF_CONDITIONS):
        parts_names = [wildcard_names(part) for part in _conditions_below(node)]
        _refuse_look_alikes(context, parts_names, _ONE_OR_ANY)
    found = [*context.shared_in_and.get(id(node), ()), *direct, *_in_two(parts)]
    return [group for group in dict.fromkeys(found) if group not in context.wildcard_words]


def share_in_ands(
    context: CheckContext, node: syntax.SyntaxNode, outer: Sequence[WildcardGroup] = ()
) -> None:
    """Note for each part of each `and` which wildcards other parts of it have too.

    Args:
        context: Gets them in `shared_in_and`.
        node: A condition, or a part of one.
        outer: Wildcards that parts of the `and` around it share.
    """
    groups = {id(part): _good_groups(context, part) for part in children(node)}
    if isinstance(node, syntax.AndExpr):
        shared = [*outer, *_in_two(list(groups.values()))]
    else:
        shared = []
        context.shared_in_and[id(node)] = tuple(g for g in outer if g in _good_groups(context, node))
    for part in children(node):
        share_in_ands(context, part, shared)


def _good_groups(context: CheckContext, node: syntax.SyntaxNode) -> list[WildcardGroup]:
    """Give the wildcards of the names that fit something; the others are reported where they are checked."""
    found = (context.wildcard_group(name.path) for name in wildcard_names(node))
    return [group for group in dict.fromkeys(found) if group]


def _in_two(parts: Sequence[Sequence[WildcardGroup]]) -> list[WildcardGroup]:
    """Give the wildcards that two parts have."""
    return [group for one, other in combinations(parts, 2) for group in one if group in other]


def _conditions_below(node: syntax.SyntaxNode) -> list[syntax.SyntaxNode]:
    """Give the nearest conditions inside a condition."""
    found: list[syntax.SyntaxNode] = []
    for part in children(node):
        found.extend([part] if isinstance(part, _CONDITIONS) else _conditions_below(part))
    return found


def groups_of(context: CheckContext, names: Iterable[syntax.NameExpr]) -> list[WildcardGroup]:
    """Give the wildcards of some names, each once; a name that fits nothing has none, and is a problem."""
    good = [name for name in names if _check_wildcard(context, name)]
    return list(dict.fromkeys(context.wildcard_group(name.path) for name in good))


def have_one_group(context: CheckContext, names: Sequence[syntax.NameExpr]) -> bool:
    """Check that the names of one comparison, statement about events or `any` have the same wildcard."""
    groups = groups_of(context, names)
    if len(groups) > 1:
        first, second = (next(n for n in names if context.wildcard_group(n.path) == g) for g in groups[:2])
        _add_difference(context, first, second, "write out the names of one of them")
    return len(groups) == 1 and all(context.matching_words(name.path) for name in names)


def _refuse_look_alikes(context: CheckContext, parts: Sequence[Sequence[syntax.NameExpr]], hint: str) -> None:
    """Add a problem where two parts of a condition have different wildcards that share a word, or a part of one."""
    for names, others in combinations(parts, 2):
        refuse_look_alikes(context, names, others, hint)


def refuse_look_alikes(
    context: CheckContext,
    names: Iterable[syntax.NameExpr],
    others: Iterable[syntax.NameExpr],
    hint: str = _ONE_OR_ANY,
) -> None:
    """Add a problem where two sides have different wildcards that a reader could take for one.

    Args:
        context: Collects the problems.
        names: Names with a `*` on one side, such as that of `if`.
        others: Those on the other side, to which the problem is attached.
        hint: What the author can do.
    """
    found = list(names)
    for other in others:
        for name in found:
            one, two = context.wildcard_group(name.path), context.wildcard_group(other.path)
            if one != two and not _word_parts(one).isdisjoint(_word_parts(two)):
                _add_difference(context, other, name, hint)
                return


def _word_parts(group: WildcardGroup) -> frozenset[str]:
    """Give the parts of the words: `left_aft` has `left` and `aft`."""
    return frozenset(part for word in group for part in word.split("_"))


def _add_difference(context: CheckContext, name: syntax.NameExpr, other: syntax.NameExpr, hint: str) -> None:
    """Add the problem of two names whose wildcards are different."""
    one, two = (join_and(context.matching_words(each.path)) for each in (name, other))
    what = f"the `*` of {name.path} ({one}) is not that of {other.path} ({two})"
    context.add_problem(name.offset, what, "names whose `*` takes the same words", hint)


def _check_wildcard(context: CheckContext, name: syntax.NameExpr) -> bool:
    """Check that a name has one `*` and matches a signal."""
    if name.path.count("*") > 1:
        context.add_problem(name.offset, f"{name.path} has more than one `*`", "one `*` in a name")
        return False
    if not context.matching_words(name.path):
        near = context.scope.nearest(name.path)
        context.add_problem(
            name.offset,
            f"no name fits {name.path}",
            "one signal or more",
            hint_of(near),
        )
        return False
    return True


def are_operative(context: CheckContext, names: Iterable[syntax.NameExpr]) -> bool:
    """Check that no signal of these names is inoperative with the present word of its `*`; records those that are."""
    paths = [context.expand(name.path) for name in names]
    out = [path for path in paths if context.scope.is_inoperative(path)]
    context.inoperative.extend(path for path in out if path not in context.inoperative)
    context.left_out += len(out)
    return not out
