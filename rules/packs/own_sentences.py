"""Sentences of a pack's own, with which an item or watch speaks to the crew.

    say: {open: "aft cargo door still open", met: "aft cargo door closed"}

Takes: the key `say` of an entry.  Gives: `OwnSentences`, and faults at their places.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from rules.faults import Fault
from rules.packs.checklist_answers import placeholder_faults
from rules.packs.model import OwnSentences
from rules.packs.schema import SayForm
from rules.packs.sourced import PackEntry, SourceLocation


def own_sentences(
    entry: PackEntry, form: SayForm | None, signals: Collection[str], faults: list[Fault]
) -> OwnSentences:
    """Check the sentences of an entry.

    Args:
        entry: Entry of the item or watch.
        form: Its `say`; None gives no sentences.
        signals: Names of all signals.
        faults: List to which faults are added.
    """
    if form is None:
        return OwnSentences()
    location, texts = entry.field_location("say"), _texts(form)
    if not texts:
        faults.append(Fault(location.place(key=True), "say has no sentence", "open, met, or both"))
    for name, text in texts.items():
        faults += _sentence_faults(text, location.child(name), signals)
    return OwnSentences(**texts)


def _texts(form: SayForm) -> Mapping[str, str]:
    """Sentences that are given, by their keys."""
    return {name: text for name, text in (("open", form.open), ("met", form.met)) if text is not None}


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
