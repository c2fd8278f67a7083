"""The checked tree: what both evaluators run.  Names are signals, numbers are in the signals' units.

Wildcards are expanded, limits are constants, look-back is in seconds, and every node is known to be
able to change.  Equal nodes compare equal and hash, so that an evaluator may share them.

Takes: nothing.  Gives: frozen node types, built by `check`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from rules.faults import Fault
from rules.signals.model import Signal

# -- terms: numbers over time -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Constant:
    """A number in `unit`; `label` is the name it came from (a limit), '' for a literal."""

    value: float
    unit: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class SignalValue:
    """The present value of a numeric signal; `factor` and `offset` bring it into the wanted unit."""

    signal: Signal
    factor: float = 1.0
    offset: float = 0.0
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Sum:
    """left + sign x right, sign +1 or -1, both already in `unit`."""

    left: Term
    right: Term
    sign: int
    unit: str


@dataclass(frozen=True, slots=True)
class Scale:
    """term x factor."""

    term: Term
    factor: float
    unit: str


@dataclass(frozen=True, slots=True)
class Window:
    """highest, lowest, change or rate of a term over the last `seconds`; rate is per second."""

    function: str
    term: Term
    seconds: float
    unit: str


@dataclass(frozen=True, slots=True)
class EventCount:
    """How often an event happened in the last `seconds`."""

    event: Event
    seconds: float
    unit: str = "1"


Term: TypeAlias = Constant | SignalValue | Sum | Scale | Window | EventCount


# -- events ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CallEvent:
    """A call was entered; `label` as spoken ("push approved")."""

    name: str
    label: str


@dataclass(frozen=True, slots=True)
class Rise:
    """The condition became true, having been false just before."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Whenever:
    """Every moment at which the condition is true."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Sweep:
    """The term reached both limits; its moment is the older of the two latest reaches."""

    term: Term
    low: float
    high: float


Event: TypeAlias = CallEvent | Rise | Whenever | Sweep


# -- conditions -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Relation:
    """left op right, numbers in one unit; on_circle where both are angles (then op is = or !=)."""

    left: Term
    op: str
    right: Term
    on_circle: bool = False


@dataclass(frozen=True, slots=True)
class Between:
    """low <= term <= high; on the circle the range runs clockwise from low to high."""

    term: Term
    low: float
    high: float
    on_circle: bool = False


@dataclass(frozen=True, slots=True)
class WithinTolerance:
    """abs(term - target) <= tolerance, the short way round where on_circle."""

    term: Term
    tolerance: float
    target: Term
    on_circle: bool = False


@dataclass(frozen=True, slots=True)
class WordIs:
    """The word of a switch, choice or text is (or with `negated` is not) one of `words`."""

    signal: Signal
    words: tuple[str, ...]
    negated: bool = False


@dataclass(frozen=True, slots=True)
class SameWord:
    """Two signals have (or with `negated` have not) the same word."""

    left: Signal
    right: Signal
    negated: bool = False


@dataclass(frozen=True, slots=True)
class And:
    """Every part; `each` is true where a wildcard made it (the sentence then lists the parts that fail)."""

    parts: tuple[Condition, ...]
    from_wildcard: bool = False


@dataclass(frozen=True, slots=True)
class Or:
    """At least one part."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """The part is false."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Implies:
    """then, or not when."""

    when: Condition
    then: Condition


@dataclass(frozen=True, slots=True)
class TimedHistorically:
    """True without a break for `seconds`."""

    part: Condition
    seconds: float


@dataclass(frozen=True, slots=True)
class Once:
    """The event has happened since the monitors began."""

    event: Event


@dataclass(frozen=True, slots=True)
class TimedOnce:
    """The event happened within the last `seconds`."""

    event: Event
    seconds: float


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """relation 'before': first, and not only after the latest second.  'after': later than the latest second."""

    first: Event
    relation: str
    second: Event


@dataclass(frozen=True, slots=True)
class Since:
    """True from the latest event until now."""

    part: Condition
    event: Event


@dataclass(frozen=True, slots=True)
class ItemMet:
    """Another expectation's verdict, by its id; `label` as spoken."""

    item: str
    label: str


@dataclass(frozen=True, slots=True)
class FaultyCondition:
    """A condition that could not be checked; always UNKNOWN, and shows its fault."""

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
    | Not
    | Implies
    | TimedHistorically
    | Once
    | TimedOnce
    | BeforeAfter
    | Since
    | ItemMet
    | FaultyCondition
)
