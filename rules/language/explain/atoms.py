"""Why a comparison is so or not: its label, what it is, what it needs.

Takes: a comparison, the view of the present.  Gives: `Reason`.
"""

from __future__ import annotations

from typing import Protocol

from rules.language.checked import (
    Between,
    Close,
    Condition,
    Const,
    Event,
    Read,
    Relation,
    SameWord,
    Term,
    WordIs,
)
from rules.language.explain.events import counted_text, word, word_clause, words_text
from rules.language.explain.names import LABELS, Names
from rules.language.explain.terms import (
    MIRRORED,
    OPPOSITES,
    Atom,
    atom_signals,
    bare,
    compared,
    span,
    target_text,
    term_text,
    told_apart,
    unit_of,
)
from rules.language.truth import Reason, Truth
from rules.signals.model import Quality, Sample, Signal
from rules.signals.numbers import say


class View(Protocol):
    """What an evaluator must be able to say of the present."""

    def truth_of(self, condition: Condition) -> Truth:
        """The truth of a sub-condition."""

    def value_of(self, term: Term) -> float | None:
        """The value of a term, None for unknown."""

    def happened(self, event: Event) -> Truth:
        """Whether an event has happened."""

    def held_s(self, condition: Condition) -> float:
        """For how long a condition under `for` has been so, 0 where it is not."""

    def condition_of(self, item: str) -> Condition | None:
        """The condition of another item, None where it is judged elsewhere."""

    def sample(self, name: str) -> Sample:
        """A signal's latest sample."""


_UNKNOWN = {
    Quality.ABSENT: "no data for {}",
    Quality.STALE: "{} is out of date",
    Quality.INVALID: "{} is not valid",
}


def lacking(signals: tuple[Signal, ...], view: View, names: Names = LABELS) -> Reason | None:
    """Why nothing can be told: which signals are not there.  None where all are fresh."""
    lost = [s for s in signals if view.sample(s.name).quality in _UNKNOWN]
    said = {s.name: (s, view.sample(s.name).quality) for whole in lost for s in names.sources(whole)}
    bad = [(s, _UNKNOWN[quality]) for s, quality in said.values() if quality in _UNKNOWN]
    if not bad:
        return None
    sentence = "; ".join(text.format(names.name(signal)) for signal, text in bad)
    return Reason(None, sentence, signals=tuple(signal.name for signal, _ in bad))


class Atoms:
    """Explains comparisons; `want` is the truth that is asked for."""

    def __init__(self, view: View, names: Names = LABELS) -> None:
        self._view = view
        self._names = names

    def explain(self, atom: Atom, *, want: bool) -> Reason:
        """Why the comparison is, or is not, what is wanted."""
        truth = self._view.truth_of(atom)
        if truth is None:
            return self._unknown(atom, want=want)
        fact, actual, wanted = self._pair(atom, want=want)
        met = truth is want
        sentence = fact if met else f"{fact}{self._came(atom)}, needs {wanted}{self._remark(atom)}"
        return Reason(met, sentence, actual, wanted, tuple(s.name for s in atom_signals(atom)))

    def _came(self, atom: Atom) -> str:
        """How the value came about, where it was worked out."""
        if not isinstance(atom, Relation | Between | Close):
            return ""
        term = self._left(atom) if isinstance(atom, Relation) else atom.term
        if not isinstance(term, Read):
            return ""
        name, working = self._names.name(term.signal), self._names.working(term.signal)
        return "" if working == name else f" ({working.removeprefix(f'{name}: ')})"

    def _remark(self, atom: Atom) -> str:
        """What a wrong value looks like, where a value is compared with one that it should be or be near."""
        sides = _sides(atom)
        if sides is None:
            return ""
        actual, wanted = map(self._view.value_of, sides)
        if actual is None or wanted is None:
            return ""
        remark = self._names.remark(wanted, actual, atom_signals(atom))
        return f"; {remark}" if remark else ""

    def _unknown(self, atom: Atom, *, want: bool) -> Reason:
        wanted = self._wanted_alone(atom, want=want)
        reason = lacking(atom_signals(atom), self._view, self._names)
        if reason is not None:
            return Reason(None, reason.sentence, "unknown", wanted, reason.signals)
        name = self._name(atom)
        names = tuple(s.name for s in atom_signals(atom))
        return Reason(None, f"{name} cannot be told yet", "unknown", wanted, names)

    def _name(self, atom: Atom) -> str:
        if isinstance(atom, WordIs):
            return atom.signal.label
        if isinstance(atom, SameWord):
            return atom.left.label
        terms = (atom.left, atom.right) if isinstance(atom, Relation) else (atom.term,)
        unknown = [term for term in terms if self._view.value_of(term) is None]
        return term_text((unknown or [terms[0]])[0], counted_text, self._names.name).rstrip(":")

    def _wanted_alone(self, atom: Atom, *, want: bool) -> str:
        """What is wanted, with its unit, where no actual value stands beside it."""
        if isinstance(atom, Between):
            return ("" if want else "outside ") + span(atom.low, atom.high, unit_of(atom.term))
        if isinstance(atom, Close):
            return self._close_wanted(atom, say(atom.tolerance, unit_of(atom.term)), want=want)
        if isinstance(atom, Relation):
            return self._relation(atom, want=want)[1]
        return self._words_wanted(atom, want=want)

    def _pair(self, atom: Atom, *, want: bool) -> tuple[str, str, str]:
        """The fact as a clause, the actual value, the wanted value."""
        if isinstance(atom, WordIs):
            actual = word(str(self._view.sample(atom.signal.name).value))
            return word_clause(atom.signal, actual), actual, self._words_wanted(atom, want=want)
        if isinstance(atom, SameWord):
            actual = word(str(self._view.sample(atom.left.name).value))
            return word_clause(atom.left, actual), actual, self._words_wanted(atom, want=want)
        if isinstance(atom, Relation):
            actual, wanted = self._relation(atom, want=want)
            name = self._left(atom)
        else:
            actual, wanted = self._near(atom, want=want)
            name = atom.term
        return f"{term_text(name, counted_text, self._names.name)} {actual}", actual, wanted

    def _words_wanted(self, atom: WordIs | SameWord, *, want: bool) -> str:
        if isinstance(atom, SameWord):
            other = self._view.sample(atom.right.name)
            text = f"{word(str(other.value))} ({atom.right.label})" if other.value else atom.right.label
            return text if want is not atom.negated else f"other than {text}"
        if want is not atom.negated:
            return words_text(atom.words)
        others = tuple(each for each in atom.signal.words if each not in atom.words)
        return words_text(others) if len(others) == 1 else f"other than {words_text(atom.words)}"

    @staticmethod
    def _left(atom: Relation) -> Term:
        """The side that is said first: the one that a signal moves."""
        return atom.right if isinstance(atom.left, Const) else atom.left

    def _relation(self, atom: Relation, *, want: bool) -> tuple[str, str]:
        left, right, op = atom.left, atom.right, atom.op
        if isinstance(left, Const):
            left, right, op = right, left, MIRRORED[op]
        if not want:
            op = OPPOSITES[op]
        value, other = self._view.value_of(left), self._view.value_of(right)
        if value is None or other is None:
            return "unknown", compared(op) + target_text(right, other, counted_text, self._names.working)
        unit = unit_of(left)
        actual, target = told_apart(value, other, unit)
        name = (
            right.label if isinstance(right, Const) else term_text(right, counted_text, self._names.working)
        )
        return actual, compared(op) + target + (f" ({name})" if name else "")

    def _near(self, atom: Between | Close, *, want: bool) -> tuple[str, str]:
        unit = unit_of(atom.term)
        value = self._view.value_of(atom.term)
        if value is None:
            return "unknown", self._wanted_alone(atom, want=want)
        if isinstance(atom, Between):
            bound = atom.low if abs(value - atom.low) < abs(value - atom.high) else atom.high
            wanted = f"{bare(atom.low, unit)} to {bare(atom.high, unit)}"
            return told_apart(value, bound, unit)[0], wanted if want else f"outside {wanted}"
        target = self._view.value_of(atom.target)
        actual = say(value, unit) if target is None else told_apart(value, target, unit)[0]
        return actual, self._close_wanted(atom, bare(atom.tolerance, unit), want=want)

    def _close_wanted(self, atom: Close, tolerance: str, *, want: bool) -> str:
        value = self._view.value_of(atom.target)
        target = target_text(atom.target, value, counted_text, self._names.working)
        return f"{target} within {tolerance}" if want else f"more than {tolerance} from {target}"


def _sides(atom: Atom) -> tuple[Term, Term] | None:
    """The value and what it should be; None where it should only be above or below something, or a plain number."""
    if isinstance(atom, Close):
        return None if isinstance(atom.target, Const) else (atom.term, atom.target)
    if isinstance(atom, Relation) and atom.op == "=" and not atom.on_circle:
        return None if isinstance(atom.right, Const) else (atom.left, atom.right)
    return None
