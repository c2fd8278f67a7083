"""The tree of a condition as it was written: names unresolved, units as the author gave them.

Takes: nothing.  Gives: frozen node types; `parse` builds them, `printer` writes them, `check` turns
them into the checked tree.  `at` and `marks` are offsets in the text and take no part in equality, so that a
printed tree parses back to an equal one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Node:
    """Anything in a condition.

    `at` is its first character's offset in the text; `marks` are the offsets of what in it is no node
    of its own: the words of `is` and `became`, the two ends of a range, a factor.
    """

    at: int = field(default=0, compare=False, kw_only=True)
    marks: tuple[int, ...] = field(default=(), compare=False, kw_only=True)


# -- quantities -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Number(Node):
    """A number as written, with its unit ('' for none)."""

    value: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A dotted name; one part may be `*`, which stands for every word that fits."""

    path: str


@dataclass(frozen=True, slots=True)
class Sum(Node):
    """`left + right` or `left - right`."""

    left: Term
    sign: str
    right: Term


@dataclass(frozen=True, slots=True)
class Scaled(Node):
    """`term * factor` or `term / factor`; the factor is a plain number."""

    term: Term
    sign: str
    factor: float


@dataclass(frozen=True, slots=True)
class Window(Node):
    """`highest(x, 60 s)`, `lowest`, `change` (now less the value at the window's start) or `rate` (per second)."""

    function: str
    term: Term
    span: Number


@dataclass(frozen=True, slots=True)
class CountOf(Node):
    """`count(EVENT, 60 s)`: how often it happened within the last so many seconds."""

    event: Event
    span: Number


Term: TypeAlias = Number | Name | Sum | Scaled | Window | CountOf


# -- events: things that have a moment ----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Happened(Node):
    """`call.push_approved happened`, or `(CONDITION) happened`: every moment at which it was so."""

    subject: Name | Condition


@dataclass(frozen=True, slots=True)
class Became(Node):
    """`gear.parking_brake became released`, or `(CONDITION) became true` (word is then 'true')."""

    subject: Name | Condition
    word: str


@dataclass(frozen=True, slots=True)
class Swept(Node):
    """`controls.elevator swept -95..95 %`: both limits reached; its time is the older of the two latest reaches."""

    term: Term
    low: float
    high: float
    unit: str


Event: TypeAlias = Happened | Became | Swept


# -- conditions ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Compare(Node):
    """`left op right`, op one of = != < <= > >=."""

    left: Term
    op: str
    right: Term


@dataclass(frozen=True, slots=True)
class Is(Node):
    """`name is word`, `name is not word`, `name is one of (a, b)`; also `flow.x is met`."""

    name: Name
    words: tuple[str, ...]
    negated: bool = False


@dataclass(frozen=True, slots=True)
class InRange(Node):
    """`term in 2800..3200 psi`; both ends belong to it."""

    term: Term
    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Near(Node):
    """`term within 150 kg of target`."""

    term: Term
    tolerance: Number
    target: Term


@dataclass(frozen=True, slots=True)
class All(Node):
    """`a and b and c`."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Either(Node):
    """`a or b or c`."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Opposite(Node):
    """`not a`."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Implies(Node):
    """`if a then b`: b, or a is false."""

    when: Condition
    then: Condition


@dataclass(frozen=True, slots=True)
class AnyOf(Node):
    """`any PART`: one match of the wildcard is enough, where without the word all are needed."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Held(Node):
    """`part for 2 s`: it has been so without a break for so long."""

    part: Condition
    span: Number


@dataclass(frozen=True, slots=True)
class Occurred(Node):
    """An event used as a condition: it has happened since the monitors began."""

    event: Event


@dataclass(frozen=True, slots=True)
class Recent(Node):
    """`EVENT within the last 30 s`."""

    event: Event
    span: Number


@dataclass(frozen=True, slots=True)
class Order(Node):
    """`EVENT before EVENT`, `EVENT after EVENT` (relation is the word)."""

    first: Event
    relation: str
    second: Event


@dataclass(frozen=True, slots=True)
class Since(Node):
    """`part since EVENT`: it has been so at every moment from the latest EVENT on."""

    part: Condition
    event: Event


Condition: TypeAlias = (
    Compare
    | Is
    | InRange
    | Near
    | All
    | Either
    | Opposite
    | Implies
    | AnyOf
    | Held
    | Occurred
    | Recent
    | Order
    | Since
)
