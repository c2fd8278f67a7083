"""Fills in the sentences with which an item or watch speaks to the crew, instead of the general form.

A sentence is used only where it is known to be true: `open` while the condition is known not to hold, `met` while it is
known to hold, and only if each `{signal}` in it has a fresh value.  Otherwise the general form says what is not known.

Takes: an item or watch, a truth, the state.  Gives: text, '' where the general form is used.
"""

from __future__ import annotations

from rules.judge.signal_text import fill_placeholders, placeholders_in
from rules.language.truth import Truth
from rules.packs.model import Item, OwnSentences, Watch
from rules.signals.model import Quality
from rules.signals.state import SignalState


def own_sentence(subject: Item | Watch, truth: Truth, state: SignalState, entry_error: str = "") -> str:
    """Sentence of an item or watch for its present truth.

    Args:
        subject: The item or watch.
        truth: Truth of what it expects.
        state: Values for the sentence.
        entry_error: Likely entry error of a wrong value, which is said after it; '' for none.

    Returns:
        The sentence; '' where it has none, or none that is known to be true.
    """
    text = _text_for(subject.say, truth)
    if not text:
        return ""
    names = _signals_of(text, subject.say)
    if any(state.sample(name).quality is not Quality.FRESH for name in names):
        return ""
    sentence = fill_placeholders(text, state, subject.say.shown)
    return f"{sentence}; {entry_error}" if entry_error else sentence


def signals_in_sentences(subject: Item | Watch) -> tuple[str, ...]:
    """Signals whose values are in the sentences of an item or watch."""
    return _signals_of(f"{subject.say.open} {subject.say.met}", subject.say)


def _signals_of(text: str, say: OwnSentences) -> tuple[str, ...]:
    """Signals of the placeholders of a text."""
    return tuple(name for place in placeholders_in(text) for name in say.shown.get(place, (place,)))


def _text_for(say: OwnSentences, truth: Truth) -> str:
    """Sentence as it is written, for a truth."""
    if truth is None:
        return ""
    return say.met if truth else say.open
