"""Clauses of conditions and events: "beacon is on", "parking brake became released".

Takes: checked conditions and events.  Gives: clauses that do not refer to present values.
"""

from __future__ import annotations

from functools import lru_cache

from rules.language.checked_tree import (
    And,
    BeforeAfter,
    Between,
    CallEvent,
    Changed,
    Condition,
    Constant,
    Deadline,
    Estimate,
    Event,
    EventCount,
    FaultyCondition,
    Implies,
    ItemMet,
    Not,
    NumberOf,
    Once,
    Or,
    Predicate,
    Relation,
    Rise,
    SameWord,
    Since,
    Sweep,
    TimedHistorically,
    TimedOnce,
    Unless,
    WithinTolerance,
    WordIs,
)
from rules.language.explain.terms import (
    operator_words,
    range_names,
    range_text,
    term_text,
    unit_of,
)
from rules.signals.model import Signal, phrase_of
from rules.signals.number_format import format_value
from rules.words import join_or, words_of_id


@lru_cache(maxsize=4096)
def word_text(text: str) -> str:
    """Format a word of the book for reading; an empty text is "not set"."""
    return words_of_id(text) or "not set"


@lru_cache(maxsize=4096)
def words_text(words: tuple[str, ...]) -> str:
    """Join words: "on", "armed or on", "standby, on or altitude"."""
    return join_or(word_text(each) for each in words)


@lru_cache(maxsize=4096)
def is_or_are(label: str) -> str:
    """Give `is`, or `are` where the label's last word is a plural."""
    last = label.rsplit(" ", 1)[-1]
    plural = (
        last.isalpha() and last.islower() and last.endswith("s") and not last.endswith(("ss", "us", "is"))
    )
    return "are" if plural else "is"


def has_or_have(label: str) -> str:
    """Give `has`, or `have` where the label's last word is a plural."""
    return "have" if is_or_are(label) == "are" else "has"


def word_clause(signal: Signal, text: str) -> str:
    """Format a signal with its value: "beacon is on", "cabin ready: no"."""
    if set(signal.words) == {"no", "yes"}:
        return f"{signal.label}: {text}"
    return f"{signal.label} {is_or_are(signal.label)} {text}"


def fact_clause(signal: Signal, word: str) -> str:
    """State that a signal has a word: "generator 1 is not on line" by its phrase, "beacon is on" without one."""
    return phrase_of(signal, word) or word_clause(signal, word_text(word))


def count_text(term: EventCount) -> str:
    """Describe the event of a count."""
    return past_clause(term.event)


def clause(condition: Condition) -> str:
    """Describe the condition as a clause."""
    if isinstance(condition, Predicate):
        return _predicate_clause(condition)
    if isinstance(condition, And):
        return " and ".join(clause(part) for part in condition.parts)
    if isinstance(condition, Or):
        return " or ".join(clause(part) for part in condition.parts)
    if isinstance(condition, NumberOf):
        return f"{number_text(condition)} of: {', '.join(clause(part) for part in condition.parts)}"
    if isinstance(condition, Not):
        return f"not ({clause(condition.part)})"
    if isinstance(condition, Implies):
        return f"{clause(condition.then)} if {clause(condition.when)}"
    if isinstance(condition, Unless):
        return f"{clause(condition.part)} unless {clause(condition.excuse)}"
    return _timed_clause(condition)


def _timed_clause(
    condition: TimedHistorically
    | Once
    | TimedOnce
    | BeforeAfter
    | Deadline
    | Since
    | ItemMet
    | Estimate
    | FaultyCondition,
) -> str:
    if isinstance(condition, TimedHistorically):
        return f"{clause(condition.part)} for {format_value(condition.seconds, 's')}"
    if isinstance(condition, Once):
        return past_clause(condition.event)
    if isinstance(condition, TimedOnce):
        return f"{past_clause(condition.event)} in the last {format_value(condition.seconds, 's')}"
    if isinstance(condition, BeforeAfter):
        return f"{past_clause(condition.first)} {condition.relation} {past_clause(condition.second)}"
    if isinstance(condition, Deadline):
        part = past_clause(condition.part) if isinstance(condition.part, Event) else clause(condition.part)
        return f"{part} {deadline_text(condition)}"
    if isinstance(condition, Since):
        return f"{clause(condition.part)} since {past_clause(condition.event)}"
    if isinstance(condition, Estimate):
        return condition.label
    return f"{condition.label} met" if isinstance(condition, ItemMet) else "a condition with a fault"


def number_text(condition: NumberOf, *, want: bool = True) -> str:
    """Describe how many parts are wanted: "at most 1", "exactly 2"; without `want` which number is not."""
    least, most = condition.least, condition.most
    if least == most:
        return f"exactly {most}" if want else f"other than {most}"
    if least:
        return f"at least {least}" if want else f"fewer than {least}"
    return f"at most {most}" if want else f"more than {most}"


def deadline_text(condition: Deadline) -> str:
    """Describe the time that a deadline gives: "within 60 s after parking brake became released"."""
    return f"within {format_value(condition.seconds, 's')} after {past_clause(condition.event)}"


def _predicate_clause(predicate: Predicate) -> str:
    if isinstance(predicate, WordIs):
        only = _only_words(predicate)
        if len(only) == 1 and phrase_of(predicate.signal, only[0]):
            return phrase_of(predicate.signal, only[0])
        return word_clause(
            predicate.signal, ("not " if predicate.negated else "") + words_text(predicate.words)
        )
    if isinstance(predicate, SameWord):
        verb = "differs from" if predicate.negated else "agrees with"
        return f"{predicate.left.label} {verb} {predicate.right.label}"
    if isinstance(predicate, Between):
        return f"{term_text(predicate.term, count_text)} is {_range_clause(predicate)}"
    if isinstance(predicate, WithinTolerance):
        return (
            f"{term_text(predicate.term, count_text)} is within {term_text(predicate.tolerance, count_text)}"
            f" of {term_text(predicate.target, count_text)}"
        )
    return _relation_clause(predicate)


def _only_words(predicate: WordIs) -> tuple[str, ...]:
    """Words of the signal for which the comparison is true."""
    if not predicate.negated:
        return predicate.words
    return tuple(word for word in predicate.signal.words if word not in predicate.words)


def _range_clause(predicate: Between) -> str:
    low, high = predicate.low, predicate.high
    if isinstance(low, Constant) and isinstance(high, Constant) and not (low.label or high.label):
        return range_text(low.value, high.value, unit_of(predicate.term))
    return f"{term_text(low, count_text)} to {term_text(high, count_text)}"


def _relation_clause(predicate: Relation) -> str:
    right = term_text(predicate.right, count_text)
    return f"{term_text(predicate.left, count_text)} is {operator_words(predicate.op)}{right}"


def past_clause(event: Event) -> str:
    """Describe the event in the past tense: "push approved was called", "parking brake became released"."""
    if isinstance(event, CallEvent):
        return f"{event.label} was called{_speaker_text(event)}"
    if isinstance(event, Changed):
        return f"{event.signal.label} changed"
    if isinstance(event, Sweep):
        return f"{term_text(event.term, count_text)} was swept {_sweep_limits(event)}"
    part = event.part
    if isinstance(part, WordIs) and not part.negated and set(part.signal.words) != {"no", "yes"}:
        verb = (
            "became"
            if isinstance(event, Rise)
            else ("were" if is_or_are(part.signal.label) == "are" else "was")
        )
        return f"{part.signal.label} {verb} {words_text(part.words)}"
    return f"it {'became' if isinstance(event, Rise) else 'was'} true that {clause(part)}"


def perfect_clause(event: Event, *, happened: bool) -> str:
    """Describe the event in the perfect tense: "push approved has been called", "parking brake has not become released"."""
    no = "" if happened else "not "
    if isinstance(event, CallEvent):
        if event.missing and not happened:
            return f"{event.missing}{_speaker_text(event)}"
        return f"{event.label} has {no}been called{_speaker_text(event)}"
    if isinstance(event, Changed):
        return f"{event.signal.label} {has_or_have(event.signal.label)} {no}changed"
    if isinstance(event, Sweep):
        name = term_text(event.term, count_text)
        return f"{name} {has_or_have(name)} {no}been swept {_sweep_limits(event)}"
    part, verb = event.part, "become" if isinstance(event, Rise) else "been"
    if isinstance(part, WordIs) and not part.negated and set(part.signal.words) != {"no", "yes"}:
        return f"{part.signal.label} {has_or_have(part.signal.label)} {no}{verb} {words_text(part.words)}"
    return f"it has {no}{verb} true that {clause(part)}"


def _speaker_text(event: CallEvent) -> str:
    return f" by {words_of_id(event.speaker)}" if event.speaker else ""


def _sweep_limits(event: Sweep) -> str:
    unit = unit_of(event.term)
    if isinstance(event.low, Constant) and isinstance(event.high, Constant):
        names = range_names(event.low.label, event.high.label)
        return f"from {range_text(event.low.value, event.high.value, unit)}{names}"
    return f"from {term_text(event.low, count_text)} to {term_text(event.high, count_text)}"
