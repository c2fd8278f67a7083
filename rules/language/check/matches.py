"""Matches of a rule: the words of its `*` for which an item or a watch is judged and reported one by one.

A rule has a main condition (of an item its condition, of a watch what it expects) and may have a second one (`after`,
`applies`).  With engines 1 and 2:

    engine.*.oil >= 40 psi                                 1: engine 1's part       2: engine 2's part
    engine.*.valve is open and lights.beacon is on         1, 2: each its valve     rest: the beacon
    engine.*.n2 > 5 % and not engine.*.valve is open       1, 2: one `*`, so each its N2 and its valve
    any engine.*.n2 > 5 %                                  one rule: it is about one match, whichever it is
    applies: engine.*.n2 > 50 %                            1, 2: each applies and expects for itself, since one `*`
    expect: engine.*.oil >= 40 psi                         in both is one engine

The rule is true where all of its matches are: an `and`, an `or`, an `if` and a `for` may be taken apart into the matches
of one part without a change of meaning.

Takes: conditions as text, and a scope.  Gives: `RuleMatch`, and the condition of each.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from rules.faults import Fault, Place
from rules.language import syntax
from rules.language.check.context import CheckContext, WildcardGroup
from rules.language.check.wildcards import (
    groups_bound_at,
    refuse_look_alikes,
    share_in_ands,
    wildcard_names,
)
from rules.language.parser import parse_or_none
from rules.language.scope import Scope

REST = "rest"
"""Word of the part of a rule that has no `*`, beside parts that have one; with `_` behind it where a match has this word."""

_REST_KEY = "*"
"""Key of that part among the words of a rule; no word contains it."""


@dataclass(frozen=True, slots=True)
class RuleMatch:
    """One match of a rule: the word of its `*`, `REST` for the part without one, '' for a rule that stays whole.

    `is_rest` is true for the part without a `*`.  `groups` are the wildcards that have the word.  `shared` is true where the second condition has it too; then the
    main condition stays whole, otherwise only its part about this match counts.
    """

    word: str
    groups: tuple[WildcardGroup, ...] = ()
    shared: bool = False
    is_rest: bool = False

    @property
    def key(self) -> str:
        """Key among the words of the rule."""
        return _REST_KEY if self.is_rest else self.word


def find_matches(main: str, second: str | None, scope: Scope) -> tuple[RuleMatch, ...]:
    """Find the matches of a rule.

    Args:
        main: Its main condition.
        second: Its second one, None for none.
        scope: Names that they may use.

    Returns:
        The matches in the order of the book, the rest last; a single one without a word where the rule stays whole: it
        has no `*` of several words that can be taken apart, or cannot be parsed.
    """
    context = CheckContext(scope)
    tree, other = parse_or_none(main), parse_or_none(second) if second is not None else None
    if tree is None:
        return (RuleMatch(""),)
    shared = shared_groups(context, tree, other)
    if shared:
        return tuple(RuleMatch(word, (shared[0],), shared=True) for word in context.words_in_order(shared[0]))
    share_in_ands(context, tree)
    parts = _match_groups(context, tree)
    if list(parts) == [_REST_KEY]:
        return (RuleMatch(""),)
    words = [word for word in parts if word != _REST_KEY]
    matches = [RuleMatch(word, tuple(parts[word])) for word in words]
    return (*matches, RuleMatch(_rest_word(words), is_rest=True)) if _REST_KEY in parts else tuple(matches)


def _rest_word(words: Collection[str]) -> str:
    """Give the word of the part without a `*`, which no match has."""
    word = REST
    while word in words:
        word += "_"
    return word


def find_conflicts(main: str, second: str, scope: Scope, place: Callable[[int], Place]) -> list[Fault]:
    """Find wildcards of a rule's two conditions that look like one and are not, or two that they share.

    Args:
        main: Its main condition.
        second: Its second one.
        scope: Names that they may use.
        place: Gives the place of the character of `main` at an offset.
    """
    context = CheckContext(scope)
    tree, other = parse_or_none(main), parse_or_none(second)
    if tree is None or other is None:
        return []
    names = wildcard_names(tree)
    refuse_look_alikes(context, wildcard_names(other), names)
    if len(shared_groups(context, tree, other)) > 1:
        what = "both conditions have the same two `*`"
        context.add_problem(names[0].offset, what, "one `*` in both", "split it into two rules")
    return [Fault(place(p.offset), p.what, p.expected, p.hint) for p in context.problems]


def part_of_match(
    context: CheckContext, node: syntax.ConditionExpr, match: RuleMatch
) -> syntax.ConditionExpr:
    """Take the part of a main condition that is about one match.

    Args:
        context: Only finds the words of names.
        node: The condition, whose wildcards are one by one or in an `and`.
        match: One of its matches.
    """
    parts = _match_groups(context, node)
    if match.shared or list(parts) == [match.key] or groups_bound_at(context, node):
        return node
    match node:
        case syntax.AndExpr(conditions):
            own = [c for c in conditions if match.key in _match_groups(context, c)]
            taken = tuple(part_of_match(context, c, match) for c in own)
            return taken[0] if len(taken) == 1 else replace(node, parts=taken)
        case syntax.OrExpr(conditions):
            split = _split_part(context, conditions)
            return replace(
                node, parts=tuple(part_of_match(context, c, match) if c is split else c for c in conditions)
            )
        case syntax.ImpliesExpr():
            return replace(node, then=part_of_match(context, node.then, match))
        case syntax.ForExpr() | syntax.UnlessExpr():
            return replace(node, part=part_of_match(context, node.part, match))
    raise AssertionError("only these forms are taken apart")


def shared_groups(
    context: CheckContext, tree: syntax.ConditionExpr, other: syntax.ConditionExpr | None
) -> list[WildcardGroup]:
    """Give the wildcards of several words that both conditions of a rule have; each of its matches has one word."""
    # Names that fit nothing are reported where their own condition is checked.
    own, others = (_groups(context, node) if node is not None else [] for node in (tree, other))
    return [group for group in own if group in others and len(group) > 1]


def _groups(context: CheckContext, node: syntax.SyntaxNode) -> list[WildcardGroup]:
    """Give the wildcards of a condition, each once."""
    return list(dict.fromkeys(context.wildcard_group(name.path) for name in wildcard_names(node)))


def _match_groups(context: CheckContext, node: syntax.ConditionExpr) -> dict[str, list[WildcardGroup]]:
    """Give the words into which a condition is taken apart, each with its wildcards; `_REST_KEY` for what has none."""
    whole: dict[str, list[WildcardGroup]] = {_REST_KEY: []}
    bound = [group for group in groups_bound_at(context, node) if len(group) > 1]
    if bound:
        return {word: [bound[0]] for word in context.words_in_order(bound[0])}
    match node:
        case syntax.AndExpr(parts):
            return _merged([_match_groups(context, part) for part in parts])
        case syntax.OrExpr(parts):
            split = _split_part(context, parts)
            return whole if split is None else _match_groups(context, split)
        case syntax.ImpliesExpr():
            return _match_groups(context, node.then)
        case syntax.ForExpr() | syntax.UnlessExpr():
            return _match_groups(context, node.part)
    return whole


def _split_part(context: CheckContext, parts: Sequence[syntax.ConditionExpr]) -> syntax.ConditionExpr | None:
    """Give the only part that can be taken apart; None for none or several."""
    split = [part for part in parts if list(_match_groups(context, part)) != [_REST_KEY]]
    return split[0] if len(split) == 1 else None


def _merged(parts: Sequence[dict[str, list[WildcardGroup]]]) -> dict[str, list[WildcardGroup]]:
    """Join the words of several parts."""
    merged: dict[str, list[WildcardGroup]] = {}
    for part in parts:
        for word, groups in part.items():
            known = merged.setdefault(word, [])
            known.extend(group for group in groups if group not in known)
    return merged
