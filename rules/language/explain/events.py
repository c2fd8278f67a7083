"""How conditions and events are told: "beacon is on", "parking brake became released".

Takes: checked conditions and events.  Gives: clauses without reference to the present values.
"""

from __future__ import annotations

from rules.language.checked import (
    All,
    Between,
    Broken,
    CallMade,
    Close,
    Condition,
    Count,
    Either,
    Event,
    Held,
    Implies,
    ItemMet,
    Occurred,
    Opposite,
    Order,
    Recent,
    Relation,
    Rise,
    SameWord,
    Since,
    Sweep,
    WordIs,
)
from rules.language.explain.terms import Atom, bare, compared, span, term_text, unit_of
from rules.signals.model import Signal
from rules.signals.numbers import say


def word(text: str) -> str:
    """A word of the book as read aloud; a text that is empty is not set."""
    return text.replace("_", " ") or "not set"


def words_text(words: tuple[str, ...]) -> str:
    """Words joined: "on", "armed or on"."""
    return " or ".join(word(each) for each in words)


def be(label: str) -> str:
    """`is`, or `are` where the label's last word is a plural."""
    last = label.rsplit(" ", 1)[-1]
    plural = (
        last.isalpha() and last.islower() and last.endswith("s") and not last.endswith(("ss", "us", "is"))
    )
    return "are" if plural else "is"


def has(label: str) -> str:
    """`has`, or `have` for a plural."""
    return "have" if be(label) == "are" else "has"


def word_clause(signal: Signal, text: str) -> str:
    """What a signal says: "beacon is on", "cabin ready: no"."""
    if set(signal.words) == {"no", "yes"}:
        return f"{signal.label}: {text}"
    return f"{signal.label} {be(signal.label)} {text}"


def counted_text(term: Count) -> str:
    """What a count counts."""
    return past(term.event)


def clause(condition: Condition) -> str:
    """What the condition asks for, as a clause."""
    if isinstance(condition, Atom):
        return _atom_clause(condition)
    if isinstance(condition, All):
        return " and ".join(clause(part) for part in condition.parts)
    if isinstance(condition, Either):
        return " or ".join(clause(part) for part in condition.parts)
    if isinstance(condition, Opposite):
        return f"it is not so that {clause(condition.part)}"
    if isinstance(condition, Implies):
        return f"{clause(condition.then)} if {clause(condition.when)}"
    return _timed_clause(condition)


def _timed_clause(condition: Held | Occurred | Recent | Order | Since | ItemMet | Broken) -> str:
    if isinstance(condition, Held):
        return f"{clause(condition.part)} for {say(condition.seconds, 's')}"
    if isinstance(condition, Occurred):
        return past(condition.event)
    if isinstance(condition, Recent):
        return f"{past(condition.event)} in the last {say(condition.seconds, 's')}"
    if isinstance(condition, Order):
        return f"{past(condition.first)} {condition.relation} {past(condition.second)}"
    if isinstance(condition, Since):
        return f"{clause(condition.part)} since {past(condition.event)}"
    return f"{condition.label} met" if isinstance(condition, ItemMet) else "a condition with a fault"


def _atom_clause(atom: Atom) -> str:
    if isinstance(atom, WordIs):
        return word_clause(atom.signal, ("not " if atom.negated else "") + words_text(atom.words))
    if isinstance(atom, SameWord):
        verb = "differs from" if atom.negated else "agrees with"
        return f"{atom.left.label} {verb} {atom.right.label}"
    if isinstance(atom, Between):
        wanted = span(atom.low, atom.high, unit_of(atom.term))
        return f"{term_text(atom.term, counted_text)} is {wanted}"
    if isinstance(atom, Close):
        return (
            f"{term_text(atom.term, counted_text)} is within {say(atom.tolerance, unit_of(atom.term))}"
            f" of {term_text(atom.target, counted_text)}"
        )
    return _relation_clause(atom)


def _relation_clause(atom: Relation) -> str:
    right = term_text(atom.right, counted_text)
    return f"{term_text(atom.left, counted_text)} is {compared(atom.op)}{right}"


def past(event: Event) -> str:
    """The event as told: "push approved was called", "parking brake became released"."""
    if isinstance(event, CallMade):
        return f"{event.label} was called"
    if isinstance(event, Sweep):
        return f"{term_text(event.term, counted_text)} was swept {_limits(event)}"
    part = event.part
    if isinstance(part, WordIs) and not part.negated and set(part.signal.words) != {"no", "yes"}:
        verb = "became" if isinstance(event, Rise) else ("were" if be(part.signal.label) == "are" else "was")
        return f"{part.signal.label} {verb} {words_text(part.words)}"
    return f"it {'became' if isinstance(event, Rise) else 'was'} so that {clause(part)}"


def perfect(event: Event, *, happened: bool) -> str:
    """Whether it has come: "push approved has been called", "parking brake has not become released"."""
    no = "" if happened else "not "
    if isinstance(event, CallMade):
        return f"{event.label} has {no}been called"
    if isinstance(event, Sweep):
        name = term_text(event.term, counted_text)
        return f"{name} {has(name)} {no}been swept {_limits(event)}"
    part, verb = event.part, "become" if isinstance(event, Rise) else "been"
    if isinstance(part, WordIs) and not part.negated and set(part.signal.words) != {"no", "yes"}:
        return f"{part.signal.label} {has(part.signal.label)} {no}{verb} {words_text(part.words)}"
    return f"it has {no}{verb} so that {clause(part)}"


def _limits(event: Sweep) -> str:
    unit = unit_of(event.term)
    return f"from {bare(event.low, unit)} to {say(event.high, unit)}"
