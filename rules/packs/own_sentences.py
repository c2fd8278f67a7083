"""Sentences of a pack's own, with which an item or watch speaks to the crew.

    say: {open: "hold 2 door still open", met: "hold 2 door closed"}

In those of a rule with a `*`, each `*` is the word of the match: "engine * oil is at {engine.*.oil_pressure}".

Takes: the key `say` of an entry.  Gives: `OwnSentences`, and faults at their places.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping

from rules.faults import Fault
from rules.language.check import REST
from rules.packs.checklist_answers import placeholder_faults
from rules.packs.model import OwnSentences
from rules.packs.schema import SayForm
from rules.packs.sourced import PackEntry, SourceLocation
from rules.words import words_of_id


def own_sentences(
    entry: PackEntry, form: SayForm | None, signals: Collection[str], faults: list[Fault], word: str
) -> OwnSentences:
    """Check the sentences of an entry.

    Args:
        entry: Entry of the item or watch.
        form: Its `say`; None gives no sentences.
        signals: Names of all signals.
        faults: List to which faults are added.
        word: Word of the match, '' for a rule that stays whole.
    """
    if form is None:
        return OwnSentences()
    location, texts = entry.field_location("say"), _texts(form, word)
    if not _texts(form):
        faults.append(Fault(location.place(key=True), "say has no sentence", "open, met, or both"))
    for name, text in texts.items():
        faults += _sentence_faults(text, location.child(name), signals)
    return OwnSentences(**texts)


def _texts(form: SayForm, word: str = "") -> Mapping[str, str]:
    """Sentences that are given, by their keys; those with a `*` are not about the rest of a rule."""
    given = {name: text for name, text in (("open", form.open), ("met", form.met)) if text is not None}
    return {name: _of_match(text, word) for name, text in given.items() if word != REST or "*" not in text}


def _of_match(text: str, word: str) -> str:
    """Put the word of a match in the place of each `*`, as it is in the name of a signal, otherwise as it is read."""
    if not word:
        return text
    parts = re.split(r"(\{[^{}]*\})", text)
    words = [word if part.startswith("{") else words_of_id(word) for part in parts]
    return "".join(part.replace("*", own) for part, own in zip(parts, words, strict=True))


def _sentence_faults(text: str, location: SourceLocation, signals: Collection[str]) -> list[Fault]:
    """Check one sentence: it goes into a longer one, so it has no stop and stays on one line."""
    if not text.strip():
        return [Fault(location.place(), "the sentence is empty", "what the crew is to hear")]
    if text != text.strip() or "\n" in text or text.endswith((".", ";", ":", ",")):
        hint = "it is put into a longer sentence, such as 'Before push back: ...'"
        return [
            Fault(location.place(), f"'{text}' is not one bare sentence", "one line without a stop", hint)
        ]
    return placeholder_faults(text, location, signals)
