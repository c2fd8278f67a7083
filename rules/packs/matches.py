"""Matches of items: the ids and labels under which an item with a `*` is judged match by match.

An item with a `*` is declared once and judged for each of its matches: `flow.before_start.pumps` for the pumps
`left_aft` and `right_aft` is `flow.before_start.pumps.left_aft` and `flow.before_start.pumps.right_aft`.  Who names the
declared item means all of its matches.

Takes: the validated pack and its scope.  Gives: the matches of each item, ids and labels of matches, and faults of labels.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from rules.faults import Fault, Place
from rules.language.check import RuleMatch, find_matches
from rules.language.scope import Scope
from rules.packs.conditions import MatchedConditions
from rules.packs.placeholders import lone_star_faults
from rules.packs.sourced import PackEntry, SourceLocation
from rules.packs.validated import ValidatedPack
from rules.words import capitalised, join_and, words_of_id


def match_id(declared: str, word: str) -> str:
    """Id of one match of an item or watch; one that stays whole has the declared id."""
    return f"{declared}.{word}" if word else declared


def match_label(label: str, match: RuleMatch) -> str:
    """Label of one match: its word in the place of the `*` of a label, otherwise after it; the rest has none."""
    word = "" if match.is_rest else match.word
    if "*" not in label:
        return f"{label} {words_of_id(word)}".rstrip()
    return capitalised(" ".join(label.replace("*", words_of_id(word)).split()))


def label_faults(label: str, location: SourceLocation, rule: MatchedConditions) -> list[Fault]:
    """Check that a `*` in a label is the match of the rule's one `*`.

    Args:
        label: Label as written.
        location: Place of the label.
        rule: One match of the rule.
    """
    if "*" not in label or rule.is_faulty:
        return []
    if not rule.wildcards:
        return lone_star_faults(label, location)
    place = location.character_place(label.index("*"))
    return [two_stars_fault(place, rule)] if len(rule.wildcards) > 1 else []


def two_stars_fault(place: Place, rule: MatchedConditions) -> Fault:
    """Fault of a text with a `*` in a rule that is taken apart by two different ones."""
    sets = " and ".join(f"({join_and(sorted(words))})" for words in rule.wildcards)
    return Fault(
        place, f"the rule has several `*`, {sets}", "one `*` where a text names it", "split it into two rules"
    )


def with_item_matches(scope: Scope, validated: ValidatedPack) -> Scope:
    """Add the matches of all items to a scope, so that conditions can name them."""
    return replace(scope, matches=dict(_item_matches(scope, validated)))


def _item_matches(scope: Scope, validated: ValidatedPack) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Items that are judged match by match, each with its matches and their labels."""
    entries = [(name, filled.entry, "condition") for name, filled in validated.items.items()]
    entries += [(name, filled.entry, "expect") for name, filled in validated.lines.items()]
    for name, entry, field in entries:
        matches = _matches(entry, field, scope)
        if len(matches) > 1:
            label = validated.labels[name]
            yield name, {match_id(name, one.word): match_label(label, one) for one in matches}


def _matches(entry: PackEntry, field: str, scope: Scope) -> tuple[RuleMatch, ...]:
    """Matches of one item."""
    main, after = (
        str(entry.fields[name].value) if name in entry.fields else None for name in (field, "after")
    )
    if main is None or "*" not in main:
        return ()
    return find_matches(main, after, scope)
