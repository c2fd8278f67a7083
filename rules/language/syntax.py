"""Syntax tree of a condition as written: names unresolved, units as the author gave them.

`offset` and `part_offsets` are offsets in the text and do not count for equality, so that a printed tree
parses to an equal one.

Takes: nothing.  Gives: frozen node types; `parser` builds them, `printer` formats them, `check` turns
them into the checked tree.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class SyntaxNode:
    """Base class of all nodes.

    `offset` is the offset of its first character in the text; `part_offsets` are the offsets of parts that are no
    nodes: the words of `is` and `became`, a factor.
    """

    offset: int = field(default=0, compare=False, kw_only=True)
    part_offsets: tuple[int, ...] = field(default=(), compare=False, kw_only=True)


# -- quantities -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NumberExpr(SyntaxNode):
    """Number as written, with its unit ('' for none)."""

    value: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class NameExpr(SyntaxNode):
    """Dotted name; one part may be `*`, which represents every word that matches."""

    path: str


@dataclass(frozen=True, slots=True)
class SumExpr(SyntaxNode):
    """`left + right` or `left - right`."""

    left: TermExpr
    sign: str
    right: TermExpr


@dataclass(frozen=True, slots=True)
class ScaleExpr(SyntaxNode):
    """`term * factor` or `term / factor`; the factor is a plain number, or a rate such as `318 ft/NM`."""

    term: TermExpr
    sign: str
    factor: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class WindowExpr(SyntaxNode):
    """`highest(x, 60 s)`, `lowest`, `average`, `change` (now less the value at the window's start) or `rate` (per second)."""

    function: str
    term: TermExpr
    span: NumberExpr


@dataclass(frozen=True, slots=True)
class CountExpr(SyntaxNode):
    """`count(EVENT, 60 s)`: the number of times that it happened within the last 60 s."""

    event: EventExpr
    span: NumberExpr


@dataclass(frozen=True, slots=True)
class SizeExpr(SyntaxNode):
    """`size of (a - b)`: the number without its sign."""

    term: TermExpr


@dataclass(frozen=True, slots=True)
class AmongExpr(SyntaxNode):
    """`highest of engine.*.egt`, `average of (a, b)`: over the matches of the wildcard, or the listed terms, now."""

    function: str
    terms: tuple[TermExpr, ...]


TermExpr: TypeAlias = (
    NumberExpr | NameExpr | SumExpr | ScaleExpr | WindowExpr | CountExpr | SizeExpr | AmongExpr
)


# -- events: things that have a moment ----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class HappenedExpr(SyntaxNode):
    """`call.push_approved happened`, or `(CONDITION) happened`: every moment at which it was true.

    `speaker` is the one of `call.push_approved by captain happened`, '' for any.
    """

    subject: NameExpr | ConditionExpr
    speaker: str = ""


@dataclass(frozen=True, slots=True)
class BecameExpr(SyntaxNode):
    """`gear.parking_brake became released`, or `(CONDITION) became true` (word is then 'true')."""

    subject: NameExpr | ConditionExpr
    word: str


@dataclass(frozen=True, slots=True)
class SweptExpr(SyntaxNode):
    """`controls.elevator swept -95..95 %`: both limits reached; its time is the older of the two latest reaches."""

    term: TermExpr
    low: TermExpr
    high: TermExpr


@dataclass(frozen=True, slots=True)
class ChangedExpr(SyntaxNode):
    """`pack.mode changed`: the moments at which it went from one known word to another."""

    name: NameExpr


EventExpr: TypeAlias = HappenedExpr | BecameExpr | ChangedExpr | SweptExpr


# -- conditions ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CompareExpr(SyntaxNode):
    """`left op right`, op one of = != < <= > >=."""

    left: TermExpr
    op: str
    right: TermExpr


@dataclass(frozen=True, slots=True)
class IsExpr(SyntaxNode):
    """`name is word`, `name is not word`, `name is one of (a, b)`; also `flow.x is met`."""

    name: NameExpr
    words: tuple[str, ...]
    negated: bool = False


@dataclass(frozen=True, slots=True)
class InRangeExpr(SyntaxNode):
    """`term in 2800..3200 psi`, `term in limit.a..x + 5 kt`; both ends belong to it."""

    term: TermExpr
    low: TermExpr
    high: TermExpr


@dataclass(frozen=True, slots=True)
class WithinExpr(SyntaxNode):
    """`term within 150 kg of target`."""

    term: TermExpr
    tolerance: TermExpr
    target: TermExpr


@dataclass(frozen=True, slots=True)
class AndExpr(SyntaxNode):
    """`a and b and c`."""

    parts: tuple[ConditionExpr, ...]


@dataclass(frozen=True, slots=True)
class OrExpr(SyntaxNode):
    """`a or b or c`."""

    parts: tuple[ConditionExpr, ...]


@dataclass(frozen=True, slots=True)
class NotExpr(SyntaxNode):
    """`not a`."""

    part: ConditionExpr


@dataclass(frozen=True, slots=True)
class ImpliesExpr(SyntaxNode):
    """`if a then b`: b, or a is false."""

    when: ConditionExpr
    then: ConditionExpr


@dataclass(frozen=True, slots=True)
class UnlessExpr(SyntaxNode):
    """`a unless b`: a, or b is known to be true."""

    part: ConditionExpr
    excuse: ConditionExpr


@dataclass(frozen=True, slots=True)
class AnyExpr(SyntaxNode):
    """`any PART`: one match of the wildcard is enough, where without the word all are needed."""

    part: ConditionExpr


@dataclass(frozen=True, slots=True)
class NumberOfExpr(SyntaxNode):
    """`at most 1 of PART`, `exactly 1 of (A, B)`: how many matches of the wildcard, or parts, are true."""

    bound: str
    number: float
    parts: tuple[ConditionExpr, ...]


@dataclass(frozen=True, slots=True)
class ForExpr(SyntaxNode):
    """`part for 2 s`: true without a break for that time."""

    part: ConditionExpr
    span: NumberExpr


@dataclass(frozen=True, slots=True)
class OccurredExpr(SyntaxNode):
    """An event used as a condition: it has happened since the monitors began."""

    event: EventExpr


@dataclass(frozen=True, slots=True)
class WithinLastExpr(SyntaxNode):
    """`EVENT within the last 30 s`."""

    event: EventExpr
    span: NumberExpr


@dataclass(frozen=True, slots=True)
class BeforeAfterExpr(SyntaxNode):
    """`EVENT before EVENT`, `EVENT after EVENT` (relation is the word)."""

    first: EventExpr
    relation: str
    second: EventExpr


@dataclass(frozen=True, slots=True)
class DeadlineExpr(SyntaxNode):
    """`PART within 60 s after EVENT`: not 60 s and more without PART (a condition or an event) since the latest EVENT."""

    part: ConditionExpr | EventExpr
    span: NumberExpr
    event: EventExpr


@dataclass(frozen=True, slots=True)
class SinceExpr(SyntaxNode):
    """`part since EVENT`: true at every moment from the latest EVENT on."""

    part: ConditionExpr
    event: EventExpr


ConditionExpr: TypeAlias = (
    CompareExpr
    | IsExpr
    | InRangeExpr
    | WithinExpr
    | AndExpr
    | OrExpr
    | NotExpr
    | ImpliesExpr
    | UnlessExpr
    | AnyExpr
    | NumberOfExpr
    | ForExpr
    | OccurredExpr
    | WithinLastExpr
    | BeforeAfterExpr
    | DeadlineExpr
    | SinceExpr
)
