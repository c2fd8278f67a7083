"""Checked tree: the conditions that both evaluators run, with signals for names and numbers in their units.

Wildcards are expanded, limits are constants, windows are in seconds, and every condition can become both true
and false.  Equal nodes compare equal and hash, so that an evaluator can share them.  Nodes of time have the
names of metric temporal logic; tests/rules/language/online/test_rtamt.py lists where ours differ from rtamt's.

Takes: nothing.  Gives: frozen node types, built by `check`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from rules.faults import Fault
from rules.language.truth import Truth
from rules.signals.model import Signal

# -- terms: numbers over time -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Constant:
    """Number in `unit`; `label` is the name of its limit, '' for a literal."""

    value: float
    unit: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class SignalValue:
    """Present value of a numeric signal; `factor` and `offset` convert it to `unit`."""

    signal: Signal
    factor: float = 1.0
    offset: float = 0.0
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Sum:
    """Sum left + sign x right, sign +1 or -1, both already in `unit`."""

    left: Term
    right: Term
    sign: int
    unit: str


@dataclass(frozen=True, slots=True)
class Scale:
    """Product term x factor; `label` is the factor as written where it has a unit: "times 318 ft/NM"."""

    term: Term
    factor: float
    unit: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Size:
    """Term without its sign: the absolute value."""

    term: Term
    unit: str


@dataclass(frozen=True, slots=True)
class Among:
    """Highest, lowest or average of several terms at the same moment."""

    function: str
    terms: tuple[Term, ...]
    unit: str


@dataclass(frozen=True, slots=True)
class Window:
    """Highest, lowest, average, change or rate of a term over the last `seconds`; rate is per second."""

    function: str
    term: Term
    seconds: float
    unit: str


@dataclass(frozen=True, slots=True)
class EventCount:
    """Number of times that an event happened in the last `seconds`."""

    event: Event
    seconds: float
    unit: str = "1"


Term: TypeAlias = Constant | SignalValue | Sum | Scale | Size | Among | Window | EventCount


# -- events ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CallEvent:
    """Entry of a call; `label` is its title ("push approved").

    `missing` is the text while it has not been made, '' for the general one.
    `speaker` is who must have made it, '' for anybody; `others` are the speakers that it then certainly was not.
    """

    name: str
    label: str
    speaker: str = ""
    others: tuple[str, ...] = ()
    missing: str = ""

    def is_made_by(self, speaker: str) -> bool | None:
        """Check who made the call; None where that is not known: '' or "crew"."""
        if self.speaker in ("", speaker):
            return True
        return False if speaker in self.others else None


@dataclass(frozen=True, slots=True)
class Rise:
    """Moment at which the condition becomes true, having been false just before."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Whenever:
    """Every moment at which the condition is true."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Changed:
    """Moment at which the signal has another word or count than just before."""

    signal: Signal


@dataclass(frozen=True, slots=True)
class Sweep:
    """Moment at which the term has reached both limits: the older of the two latest reaches.

    The limits contain no signal, so both sides depend on the same data.
    """

    term: Term
    low: Term
    high: Term


Event: TypeAlias = CallEvent | Rise | Whenever | Changed | Sweep


# -- conditions -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Relation:
    """Comparison `left op right` of numbers in one unit; `on_circle` if both are angles (then `op` is = or !=)."""

    left: Term
    op: str
    right: Term
    on_circle: bool = False


@dataclass(frozen=True, slots=True)
class Between:
    """Range low <= term <= high; on the circle it runs clockwise from low to high."""

    term: Term
    low: Term
    high: Term
    on_circle: bool = False


@dataclass(frozen=True, slots=True)
class WithinTolerance:
    """Tolerance abs(term - target) <= tolerance, the short way round where on_circle."""

    term: Term
    tolerance: Term
    target: Term
    on_circle: bool = False


@dataclass(frozen=True, slots=True)
class WordIs:
    """Comparison of a switch, choice or text with `words`: the value is one of them, with `negated` none of them."""

    signal: Signal
    words: tuple[str, ...]
    negated: bool = False


@dataclass(frozen=True, slots=True)
class SameWord:
    """Comparison of two signals with words: equal, or with `negated` different."""

    left: Signal
    right: Signal
    negated: bool = False


@dataclass(frozen=True, slots=True)
class And:
    """True where every part is; `from_wildcard` if a wildcard made it (the sentence then lists the parts that fail)."""

    parts: tuple[Condition, ...]
    from_wildcard: bool = False


@dataclass(frozen=True, slots=True)
class Or:
    """True where at least one part is."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class NumberOf:
    """True where from `least` to `most` of the parts are true."""

    parts: tuple[Condition, ...]
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Not:
    """True where the part is false."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Implies:
    """True where `then` is true or `when` is false."""

    when: Condition
    then: Condition


@dataclass(frozen=True, slots=True)
class Unless:
    """True where the part is true, or the excuse is known to be true; an excuse that is unknown excuses nothing."""

    part: Condition
    excuse: Condition


@dataclass(frozen=True, slots=True)
class TimedHistorically:
    """True where the part has been true without a break for `seconds`.

    Unlike rtamt's operator it is unknown, not true, before `seconds` of data have been seen.
    """

    part: Condition
    seconds: float


@dataclass(frozen=True, slots=True)
class Once:
    """True where the event has happened since the monitors began; `assumes` as `assumptions.py` explains."""

    event: Event
    assumes: Truth = None


@dataclass(frozen=True, slots=True)
class TimedOnce:
    """True where the event happened within the last `seconds`.

    Unlike rtamt's operator it is unknown, not false, where data is missing within the window.
    """

    event: Event
    seconds: float


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """Order of two events: before: the first happened before the latest second; after: later than the latest second."""

    first: Event
    relation: str
    second: Event
    assumes: Truth = None


@dataclass(frozen=True, slots=True)
class Deadline:
    """False where `seconds` have passed since the latest `event` and the part was never true, or did not happen, since.

    `deadline.py` has its meaning in terms of other conditions.
    """

    part: Condition | Event
    seconds: float
    event: Event
    assumes: Truth = None


@dataclass(frozen=True, slots=True)
class Since:
    """True where the part has been true from the latest event until now."""

    part: Condition
    event: Event
    assumes: Truth = None


@dataclass(frozen=True, slots=True)
class ItemMet:
    """Verdict of another item, by its id; `label` is its name in sentences."""

    item: str
    label: str


@dataclass(frozen=True, slots=True)
class Estimate:
    """Claim about an estimate: for each source, the conditions that show it and its opposite.

    `yes` and `no` have one entry for each source, in their order; None where the source cannot show it.  The first source
    that shows one of the two decides.  `label` is the name of the estimate.
    """

    label: str
    yes: tuple[Condition | None, ...]
    no: tuple[Condition | None, ...]


@dataclass(frozen=True, slots=True)
class FaultyCondition:
    """Condition that could not be checked; always UNKNOWN, and shows its fault."""

    fault: Fault


Predicate: TypeAlias = Relation | Between | WithinTolerance | WordIs | SameWord
"""A comparison of present values: a condition without operators of logic or time."""

Condition: TypeAlias = (
    Relation
    | Between
    | WithinTolerance
    | WordIs
    | SameWord
    | And
    | Or
    | NumberOf
    | Not
    | Implies
    | Unless
    | TimedHistorically
    | Once
    | TimedOnce
    | BeforeAfter
    | Deadline
    | Since
    | ItemMet
    | Estimate
    | FaultyCondition
)
