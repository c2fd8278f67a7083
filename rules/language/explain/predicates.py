"""Explanation of comparisons: the label, the actual value, the wanted value.

Takes: a comparison and a view of the present values.  Gives: `Reason`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import inf
from typing import Protocol

from rules.language.checked_tree import (
    Between,
    Condition,
    Constant,
    Event,
    Predicate,
    Relation,
    SameWord,
    SignalValue,
    Term,
    WithinTolerance,
    WordIs,
)
from rules.language.explain.clauses import count_text, fact_clause, word_text, words_text
from rules.language.explain.signal_names import LABELS, SignalNames
from rules.language.explain.terms import (
    MIRRORED_OPERATORS,
    NEGATED_OPERATORS,
    name_of_value,
    operator_words,
    range_names,
    range_text,
    shown_number,
    target_text,
    term_text,
    unit_of,
)
from rules.language.traversal import look_back_s, signals_in
from rules.language.truth import Reason, Truth
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.model import TRIP_PREFIX, Quality, Sample, Signal
from rules.signals.number_format import format_distinct, format_missing_data, format_value


class MonitorView(Protocol):
    """View of the present values that an evaluator must provide."""

    def truth_of(self, condition: Condition) -> Truth:
        """Give the truth of a sub-condition."""

    def value_of(self, term: Term) -> float | None:
        """Give the value of a term, None for unknown."""

    def happened(self, event: Event) -> Truth:
        """Check for an event in the past."""

    def true_for_s(self, condition: Condition) -> float:
        """Time for which a condition under `for` has been true, 0 where it is not."""

    def condition_of(self, item: str) -> Condition | None:
        """Give the condition of another item, None where it is judged elsewhere."""

    def sample(self, name: str) -> Sample:
        """Give a signal's latest sample."""

    def unwatched(self, condition: Condition) -> str:
        """Say why the past of a condition's events is not known; '' where it is."""

    def missing_s(self, signals: Iterable[Signal], span_s: float = inf) -> float:
        """Length of all gaps in the last `span_s` that lose data of these signals, in seconds."""


_MISSING_TEXTS = {
    Quality.ABSENT: "no data for {}",
    Quality.STALE: "{} is out of date",
    Quality.INVALID: "{} is not valid",
}


def missing_data(
    signals: tuple[Signal, ...], view: MonitorView, names: SignalNames = LABELS
) -> Reason | None:
    """Explain missing data: the signals that are not fresh.  None where all are fresh."""
    unusable = [s for s in signals if view.sample(s.name).quality in _MISSING_TEXTS]
    qualities = {
        s.name: (s, view.sample(s.name).quality) for signal in unusable for s in names.sources(signal)
    }
    bad = [(s, _MISSING_TEXTS[quality]) for s, quality in qualities.values() if quality in _MISSING_TEXTS]
    if not bad:
        return None
    sentence = "; ".join(text.format(names.name(signal)) for signal, text in bad)
    return Reason(None, sentence, signals=tuple(signal.name for signal, _ in bad))


def gap_reason(signals: tuple[Signal, ...], view: MonitorView, span_s: float = inf) -> Reason | None:
    """Explain a gap in the data of the last `span_s`.  None where there is none."""
    missing_s = view.missing_s(signals, span_s)
    if not missing_s:
        return None
    sentence = format_missing_data(missing_s)
    return Reason(
        None, sentence, "unknown", "", tuple(s.name for s in signals), in_gap=True, passes=span_s < inf
    )


class PredicateExplainer:
    """Explains comparisons; `want` is the wanted truth."""

    def __init__(self, view: MonitorView, names: SignalNames = LABELS) -> None:
        self._view = view
        self._names = names

    def explain(self, predicate: Predicate, *, want: bool) -> Reason:
        """Explain the comparison by the wanted truth."""
        truth = self._view.truth_of(predicate)
        if truth is None:
            return self._unknown(predicate, want=want)
        fact, actual, wanted = self._fact_and_values(predicate, want=want)
        met, remark = truth is want, ""
        if met or _fact_shows_need(predicate):
            sentence = fact
        else:
            sheet = self._sheet_value(predicate) if want else ""
            need = f", the sheet says {sheet}" if sheet else f"{self._derivation(predicate)}, needs {wanted}"
            remark = self._remark(predicate)
            sentence = f"{fact}{need}; {remark}" if remark else f"{fact}{need}"
        return Reason(met, sentence, actual, wanted, _signal_names(predicate), remark=remark)

    def _sheet_value(self, predicate: Predicate) -> str:
        """Give what the trip sheet says, where a value of the aeroplane should equal it or be near it; '' elsewhere."""
        if isinstance(predicate, SameWord):
            left, right = predicate.left, predicate.right
            if predicate.negated or not _is_of_sheet(right) or _is_of_sheet(left):
                return ""
            return word_text(str(self._view.sample(right.name).value))
        sides = _sides(predicate)
        if sides is None or not isinstance(sides[1], SignalValue) or not _is_of_sheet(sides[1].signal):
            return ""
        if any(map(_is_of_sheet, signals_in(sides[0]))):
            return ""
        actual, target = (self._view.value_of(side) for side in sides)
        if actual is None or target is None:
            return ""
        return _distinct(sides[0], actual, sides[1], target)[1]

    def _derivation(self, predicate: Predicate) -> str:
        """Describe the calculation of the value, where it was computed."""
        if not isinstance(predicate, Relation | Between | WithinTolerance):
            return ""
        term = self._subject(predicate) if isinstance(predicate, Relation) else predicate.term
        if not isinstance(term, SignalValue):
            return ""
        calculation = self._names.calculation(term.signal)
        return f" ({calculation})" if calculation else ""

    def _name_and_calculation(self, signal: Signal) -> str:
        """Name a wanted value with its calculation: "minimum V2 at 61 200 kg: 1.13 times stall speed 118 kt"."""
        calculation = self._names.calculation(signal)
        return f"{self._names.name(signal)}: {calculation}" if calculation else self._names.name(signal)

    def _remark(self, predicate: Predicate) -> str:
        """Describe the probable entry error, where a value should equal another one or be near it."""
        sides = _sides(predicate)
        if sides is None:
            return ""
        actual, wanted = map(self._view.value_of, sides)
        if actual is None or wanted is None:
            return ""
        actual, wanted = shown_number(sides[0], actual), shown_number(sides[1], wanted)
        return self._names.remark(wanted, actual, signals_in(predicate))

    def _unknown(self, predicate: Predicate, *, want: bool) -> Reason:
        wanted = self._wanted_alone(predicate, want=want)
        reason = missing_data(signals_in(predicate), self._view, self._names)
        if reason is not None:
            return Reason(None, reason.sentence, "unknown", wanted, reason.signals)
        span_s = look_back_s(predicate)
        gap = gap_reason(signals_in(predicate), self._view, span_s) if span_s else None
        if gap is not None:
            return replace(gap, wanted=wanted)
        name = self._name(predicate)
        return Reason(None, f"{name} not known yet", "unknown", wanted, _signal_names(predicate))

    def _name(self, predicate: Predicate) -> str:
        if isinstance(predicate, WordIs):
            return predicate.signal.label
        if isinstance(predicate, SameWord):
            return predicate.left.label
        terms = (predicate.left, predicate.right) if isinstance(predicate, Relation) else (predicate.term,)
        unknown = [term for term in terms if self._view.value_of(term) is None]
        return term_text((unknown or [terms[0]])[0], count_text, self._names.name).rstrip(":")

    def _wanted_alone(self, predicate: Predicate, *, want: bool) -> str:
        """Format the wanted value with its unit, for sentences without an actual value."""
        if isinstance(predicate, Between):
            return self._range_wanted(predicate, want=want)
        if isinstance(predicate, WithinTolerance):
            return self._close_wanted(predicate, want=want)
        if isinstance(predicate, Relation):
            return self._relation_values(predicate, want=want)[1]
        return self._words_wanted(predicate, want=want)

    def _fact_and_values(self, predicate: Predicate, *, want: bool) -> tuple[str, str, str]:
        """Format the fact as a clause, the actual value and the wanted value."""
        if isinstance(predicate, WordIs):
            word = str(self._view.sample(predicate.signal.name).value)
            return (
                fact_clause(predicate.signal, word),
                word_text(word),
                self._words_wanted(predicate, want=want),
            )
        if isinstance(predicate, SameWord):
            word = str(self._view.sample(predicate.left.name).value)
            return (
                fact_clause(predicate.left, word),
                word_text(word),
                self._words_wanted(predicate, want=want),
            )
        if isinstance(predicate, Relation):
            actual, wanted = self._relation_values(predicate, want=want)
            name = self._subject(predicate)
        else:
            actual, wanted = self._number_values(predicate, want=want)
            name = predicate.term
        return f"{term_text(name, count_text, self._names.name)} {actual}", actual, wanted

    def _words_wanted(self, predicate: WordIs | SameWord, *, want: bool) -> str:
        if isinstance(predicate, SameWord):
            other = self._view.sample(predicate.right.name)
            text = (
                f"{word_text(str(other.value))} ({predicate.right.label})"
                if other.value
                else predicate.right.label
            )
            return text if want is not predicate.negated else f"other than {text}"
        if want is not predicate.negated:
            return words_text(predicate.words)
        others = tuple(each for each in predicate.signal.words if each not in predicate.words)
        return words_text(others) if len(others) == 1 else f"other than {words_text(predicate.words)}"

    @staticmethod
    def _subject(predicate: Relation) -> Term:
        """Give the side of the comparison that comes first in the sentence: the one with a signal."""
        return predicate.right if isinstance(predicate.left, Constant) else predicate.left

    def _relation_values(self, predicate: Relation, *, want: bool) -> tuple[str, str]:
        left, right, op = predicate.left, predicate.right, predicate.op
        if isinstance(left, Constant):
            left, right, op = right, left, MIRRORED_OPERATORS[op]
        if not want:
            op = NEGATED_OPERATORS[op]
        value, other = self._view.value_of(left), self._view.value_of(right)
        if value is None or other is None:
            return "unknown", operator_words(op) + target_text(
                right, other, count_text, self._name_and_calculation
            )
        actual, target = _distinct(left, value, right, other)
        name = (
            _name_that_tells(right.label)
            if isinstance(right, Constant)
            else term_text(right, count_text, self._name_and_calculation)
        )
        return actual, operator_words(op) + target + (f" ({name})" if name else "")

    def _number_values(self, predicate: Between | WithinTolerance, *, want: bool) -> tuple[str, str]:
        unit = unit_of(predicate.term)
        value = self._view.value_of(predicate.term)
        if value is None:
            return "unknown", self._wanted_alone(predicate, want=want)
        if isinstance(predicate, Between):
            ends = [self._view.value_of(end) for end in (predicate.low, predicate.high)]
            known = [end for end in ends if end is not None]
            bound = min(known, key=lambda end: (abs(value - end), -end), default=value)
            actual = format_distinct(shown_number(predicate.term, value), bound, unit)[0]
            return actual, self._range_wanted(predicate, want=want)
        target = self._view.value_of(predicate.target)
        shown = shown_number(predicate.term, value)
        actual = format_value(shown, unit) if target is None else format_distinct(shown, target, unit)[0]
        return actual, self._close_wanted(predicate, want=want)

    def _range_wanted(self, predicate: Between, *, want: bool) -> str:
        """Format the ends of a range, and their names: "135 to 155 (VREF less 5 kt to VREF plus 15 kt)"."""
        ends, unit = (predicate.low, predicate.high), unit_of(predicate.term)
        low, high = (
            _as_direction(self._view.value_of(end)) if predicate.on_circle else self._view.value_of(end)
            for end in ends
        )
        names = [name_of_value(end, count_text, self._name_and_calculation) for end in ends]
        if low is None or high is None:
            text = " to ".join(term_text(end, count_text, self._name_and_calculation) for end in ends)
        else:
            text = range_text(low, high, unit) + range_names(*names)
        return text if want else f"outside {text}"

    def _close_wanted(self, predicate: WithinTolerance, *, want: bool) -> str:
        tolerance = self._tolerance(predicate)
        value = self._view.value_of(predicate.target)
        target = target_text(predicate.target, value, count_text, self._name_and_calculation)
        return f"{target} within {tolerance}" if want else f"more than {tolerance} from {target}"

    def _tolerance(self, predicate: WithinTolerance) -> str:
        term, unit = predicate.tolerance, unit_of(predicate.term)
        value, name = (
            self._view.value_of(term),
            name_of_value(term, count_text, self._name_and_calculation),
        )
        if value is None:
            return name
        number = format_value(value, unit)
        return f"{number} ({name})" if name else number


def _distinct(left: Term, value: float, right: Term, other: float) -> tuple[str, str]:
    """Format the two sides of a comparison so that they are in the order in which they were judged.

    Steps that would make both the same, or turn them round, are left out: 44.6 m is judged, though 40 m is shown.
    """
    shown, target = shown_number(left, value), shown_number(right, other)
    if (shown > target) is not (value > other) or (shown < target) is not (value < other):
        shown, target = value, other
    return format_distinct(shown, target, unit_of(left))


def _as_direction(value: float | None) -> float | None:
    """Turn a sum of degrees to 0 to 360 deg."""
    return value if value is None or 0 <= value <= FULL_CIRCLE_DEG else value % FULL_CIRCLE_DEG


_BARE_LIMITS = ("minimum ", "maximum ", "highest ", "lowest ", "most ", "least ")


def _name_that_tells(label: str) -> str:
    """Name of a limit, '' where it says no more than "at least" or "at most" does: "minimum oil pressure"."""
    return "" if label.startswith(_BARE_LIMITS) else label


def _fact_shows_need(predicate: Predicate) -> bool:
    """True if a fact says by itself what is needed: there is only one other word, or all but this one will do."""
    if not isinstance(predicate, WordIs) or not predicate.signal.words:
        return False
    only_other = len(predicate.words) == 1 and len(predicate.signal.words) > 2
    return len(predicate.signal.words) == 2 or (predicate.negated and only_other)


def _is_of_sheet(signal: Signal) -> bool:
    """True for a value of the trip sheet."""
    return signal.name.startswith(TRIP_PREFIX)


def _signal_names(predicate: Predicate) -> tuple[str, ...]:
    """Give the names of the signals that a comparison reads; most compare one signal with words."""
    if isinstance(predicate, WordIs):
        return (predicate.signal.name,)
    return tuple(signal.name for signal in signals_in(predicate))


def _sides(predicate: Predicate) -> tuple[Term, Term] | None:
    """Give the value and its target; None for an inequality, or where the target is a plain number."""
    if isinstance(predicate, WithinTolerance):
        return None if isinstance(predicate.target, Constant) else (predicate.term, predicate.target)
    if isinstance(predicate, Relation) and predicate.op == "=" and not predicate.on_circle:
        return None if isinstance(predicate.right, Constant) else (predicate.left, predicate.right)
    return None
