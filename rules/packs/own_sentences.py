"""Sentences of a pack's own, with which an item or watch speaks to the crew.

    say: {open: "hold 2 door still open", met: "hold 2 door closed"}

In those of a rule that is judged match by match each `*` is the word of the match, and each sentence has one, since it is
said of each match alone: "engine * oil is at {engine.*.oil_pressure}".  The part without a `*` has the general form.  In
those of any other rule `{signal.*}` gives the values of all signals that match.

Takes: the key `say` of an entry.  Gives: `OwnSentences`, and faults at their places.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from rules.faults import Fault
from rules.language.scope import Scope
from rules.packs.conditions import MatchedConditions
from rules.packs.matches import two_stars_fault
from rules.packs.model import OwnSentences
from rules.packs.placeholders import (
    brace_faults,
    placeholder_faults,
    placeholder_offsets,
    signals_shown,
    with_limits,
)
from rules.packs.schema import SayForm
from rules.packs.sourced import PackEntry, SourceLocation
from rules.words import join_and, words_of_id


def own_sentences(
    entry: PackEntry, form: SayForm | None, rule: MatchedConditions, scope: Scope, faults: list[Fault]
) -> OwnSentences:
    """Check the sentences of an entry, and fill in what is known when the pack is loaded: match and limits.

    Args:
        entry: Entry of the item or watch.
        form: Its `say`; None gives no sentences.
        rule: One match of the rule, or the rule that stays whole.
        scope: Signals and limits that sentences may name; one with an inoperative signal is not used.
        faults: List to which faults are added.
    """
    if form is None:
        return OwnSentences()
    location, texts = entry.field_location("say"), _texts(form)
    if not texts:
        expected = "open, met, or both; nothing after say: for no sentence"
        faults.append(Fault(location.place(key=True), "say has no sentence", expected))
    for name, text in texts.items():
        faults += _sentence_faults(text, location.child(name), rule, scope)
    if rule.match.is_rest:
        return OwnSentences()
    filled = {name: with_limits(_of_match(text, rule.match.word), scope) for name, text in texts.items()}
    used = {name: text for name, text in filled.items() if not _shows_inoperative(text, scope)}
    shown = {place: names for text in used.values() for place, names in signals_shown(text, scope).items()}
    return OwnSentences(used.get("open", ""), used.get("met", ""), shown)


def _texts(form: SayForm) -> Mapping[str, str]:
    """Sentences that are given, by their keys."""
    return {name: text for name, text in (("open", form.open), ("met", form.met)) if text is not None}


def _of_match(text: str, word: str) -> str:
    """Put the word of a match in the place of each `*`, as it is in the name of a signal, otherwise as it is read."""
    if not word:
        return text
    parts = re.split(r"(\{[^{}]*\})", text)
    words = [word if part.startswith("{") else words_of_id(word) for part in parts]
    return "".join(part.replace("*", own) for part, own in zip(parts, words, strict=True))


def _shows_inoperative(text: str, scope: Scope) -> bool:
    """True if a sentence would say the value of a signal that is dispatched inoperative."""
    return any(scope.is_inoperative(name) for names in signals_shown(text, scope).values() for name in names)


def _sentence_faults(
    text: str, location: SourceLocation, rule: MatchedConditions, scope: Scope
) -> list[Fault]:
    """Check one sentence: it goes into a longer one, so it has no stop and stays on one line."""
    if not text.strip():
        return [Fault(location.place(), "the sentence is empty", "what the crew is to hear")]
    if text != text.strip() or "\n" in text or text.endswith((".", ";", ":", ",")):
        hint = "it is put into a longer sentence, such as 'Before push back: ...'"
        return [
            Fault(location.place(), f"'{text}' is not one bare sentence", "one line without a stop", hint)
        ]
    if rule.is_faulty:  # its matches are not known
        return brace_faults(text, location, scope)
    if not rule.wildcards:
        return placeholder_faults(text, location, scope)
    found = brace_faults(text, location, scope)
    return found or list(_match_faults(text, location, rule, scope))


def _match_faults(
    text: str, location: SourceLocation, rule: MatchedConditions, scope: Scope
) -> Iterator[Fault]:
    """Check a sentence about each match: it names the match, and gives no value of another match."""
    if len(rule.wildcards) > 1:
        at = max(text.find("*"), 0)
        yield two_stars_fault(location.character_place(at), rule)
    elif "*" not in text:
        what = "this sentence is said of each match of the `*`, and does not say of which"
        hint = "put `*` where the match is named; the part without a `*` has the general form"
        yield Fault(location.place(), what, "a `*` for the match", hint)
    else:
        for name, offset in placeholder_offsets(text):
            yield from _value_faults(name, text, location, offset, rule.wildcards[0], scope)


def _value_faults(
    name: str, text: str, location: SourceLocation, offset: int, wildcard: frozenset[str], scope: Scope
) -> Iterator[Fault]:
    """Check one placeholder: its `*` is that of the rule, and it is not one fixed match of it."""
    words = scope.matching_words(name) if "*" in name else ()
    if words and frozenset(words) != wildcard:
        what = f"the `*` of {name} ({join_and(words)}) is not that of the rule ({join_and(sorted(wildcard))})"
        expected, hint = "names whose `*` takes the same words", "write out the name"
        yield Fault(location.character_place(offset), what, expected, hint)
    for pattern in _patterns(name):
        every = {pattern.replace("*", word) for word in scope.matching_words(pattern)}
        named = {other for other, _ in placeholder_offsets(text)}
        if frozenset(scope.matching_words(pattern)) == wildcard and not every <= named:
            what = f"{name} is the same in the sentence of every match"
            yield Fault(location.character_place(offset), what, f"{{{pattern}}}", "or name all of them")


def _patterns(name: str) -> Iterator[str]:
    """Names with a `*` that a signal fits, one for each of its parts."""
    parts = name.split(".")
    if "*" not in name:
        yield from (".".join([*parts[:n], "*", *parts[n + 1 :]]) for n in range(len(parts)))
