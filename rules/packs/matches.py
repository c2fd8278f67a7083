"""Matches of items: the ids and labels under which an item with a `*` is judged match by match.

An item with a `*` is declared once and judged for each of its matches: `flow.before_start.pumps` for the pumps
`left_aft` and `right_aft` is `flow.before_start.pumps.left_aft` and `flow.before_start.pumps.right_aft`.  Who names the
declared item means all of its matches.

Takes: the validated pack and its scope.  Gives: the matches of each item, and ids and labels of matches.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from rules.language.check import REST, find_matches
from rules.language.scope import Scope
from rules.packs.sourced import PackEntry
from rules.packs.validated import ValidatedPack
from rules.words import capitalised, words_of_id


def match_id(declared: str, word: str) -> str:
    """Id of one match of an item or watch; one that stays whole has the declared id."""
    return f"{declared}.{word}" if word else declared


def match_label(label: str, word: str) -> str:
    """Label of one match: its word in the place of the `*` of a label, otherwise after it."""
    word = "" if word == REST else word
    if "*" not in label:
        return f"{label} {words_of_id(word)}".rstrip()
    return capitalised(" ".join(label.replace("*", words_of_id(word)).split()))


def with_item_matches(scope: Scope, validated: ValidatedPack) -> Scope:
    """Add the matches of all items to a scope, so that conditions can name them."""
    return replace(scope, matches=dict(_item_matches(scope, validated)))


def _item_matches(scope: Scope, validated: ValidatedPack) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Items that are judged match by match, each with its matches and their labels."""
    entries = [(name, filled.entry, "condition") for name, filled in validated.items.items()]
    entries += [(name, filled.entry, "expect") for name, filled in validated.lines.items()]
    for name, entry, field in entries:
        words = _match_words(entry, field, scope)
        if len(words) > 1:
            label = validated.labels[name]
            yield name, {match_id(name, word): match_label(label, word) for word in words}


def _match_words(entry: PackEntry, field: str, scope: Scope) -> tuple[str, ...]:
    """Words of the matches of one item."""
    main, after = (
        str(entry.fields[name].value) if name in entry.fields else None for name in (field, "after")
    )
    if main is None or "*" not in main:
        return ()
    return tuple(match.word for match in find_matches(main, after, scope))
