"""A pack after loading: phases, gates, flows, checklists, watches, with checked conditions.

Takes: nothing.  Gives: frozen types, built by `load`, run by `rules.judge`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import msgspec

from rules.faults import Fault
from rules.language.checked_tree import Condition, Term
from rules.language.traversal import signal_names
from rules.signals.model import Signal


class Level(StrEnum):
    """Alert levels as 14 CFR 25.1322(b) orders them."""

    ADVISORY = "advisory"
    CAUTION = "caution"
    WARNING = "warning"


class FindingKind(StrEnum):
    """What went wrong, for the record."""

    OMITTED = "omitted"
    UNDONE = "undone"
    TOO_EARLY = "too_early"
    OUT_OF_ORDER = "out_of_order"
    WRONG_VALUE = "wrong_value"
    LIMIT_EXCEEDED = "limit_exceeded"
    LATE = "late"
    NOT_VERIFIABLE = "not_verifiable"


@dataclass(frozen=True, slots=True)
class Phase:
    """A part of the flight; `code` is the CAST/ICAO common taxonomy's (STD, PBT, TXI, TOF, ...)."""

    id: str
    title: str
    code: str


@dataclass(frozen=True, slots=True)
class Call:
    """Something said that no signal shows; `by` is who says it (ground, atc, cabin, or a seat)."""

    id: str
    title: str
    by: str


@dataclass(frozen=True, slots=True)
class Item:
    """One expectation.  Either `condition` (a signal shows it) or `confirm` (only the crew can say it).

    `id` is `flow.NAME.KEY`; conditions refer to it as `flow.KEY is met` or by the whole id.
    `after`: what must be so before this may be done (else: too early).  `follows`: items that come
    first in a strict order (else: out of order).  `hold_s`: how long it must be unmet before it is
    told; `clear_s`: how long met before it counts as mended.  `finding` fixes the kind where the
    usual rule would name it wrongly.
    """

    id: str
    label: str
    seat: str
    level: Level
    condition: Condition | None = None
    confirm: str = ""
    after: Condition | None = None
    after_text: str = ""
    follows: tuple[str, ...] = ()
    why: str = ""
    source: str = ""
    hold_s: float = 1.0
    clear_s: float = 1.0
    finding: FindingKind | None = None
    waived: str = ""
    signals: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Flow:
    """Items by seat.  Seats work in parallel; within a seat the order binds only where an item says so."""

    id: str
    title: str
    phase: str
    seats: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ChecklistLine:
    """One line of a checklist: `answer` may hold {signal} places; `item` is the expectation it reads."""

    challenge: str
    answer: str
    item: str


@dataclass(frozen=True, slots=True)
class Checklist:
    """Challenge and response, read by one seat (or both), each line tied to an expectation."""

    id: str
    title: str
    read_by: str
    lines: tuple[ChecklistLine, ...]


@dataclass(frozen=True, slots=True)
class Gate:
    """The point before a phase: `cue` (about to go), `entry` (they went), `needs` (item ids).

    It can be cued and entered while the present phase is one of `leaves` (all earlier phases where
    the author named none).
    """

    id: str
    title: str
    phase: str
    leaves: tuple[str, ...]
    cue: Condition
    entry: Condition
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Watch:
    """A limit that must hold while something is so, whatever the gate."""

    id: str
    label: str
    seat: str
    level: Level
    applies: Condition | None
    expect: Condition
    phases: tuple[str, ...] = ()
    finding: FindingKind = FindingKind.LIMIT_EXCEEDED
    hold_s: float = 0.0
    clear_s: float = 2.0
    why: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class QuietPeriod:
    """While `applies`, notices of these levels are held back, and summed up afterwards."""

    id: str
    applies: Condition
    holds: tuple[Level, ...]


class OooiMoment(StrEnum):
    """The four moments of a flight that a journey log has."""

    OUT = "out"
    OFF = "off"
    ON = "on"
    IN = "in"


@dataclass(frozen=True, slots=True)
class FlightTimeRule:
    """When one of the four moments is: what must be so, and in which phases (all where none is named)."""

    moment: OooiMoment
    when: Condition
    phases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CalloutRule:
    """Said aloud at the moment at which `when` becomes true, in `phases` (all where none is named).

    `say` may hold {signal} places.  With `once_per_phase` it is made once after each change of the phase at most.
    """

    id: str
    text: str
    when: Condition
    phases: tuple[str, ...] = ()
    once_per_phase: bool = False


class TraceLimit(msgspec.Struct, frozen=True):
    """A limit to draw beside a signal of a strip; `value` is in the signal's unit."""

    signal: str = msgspec.field(name="signal")
    value: float = msgspec.field(name="value")
    label: str = msgspec.field(name="label")


@dataclass(frozen=True, slots=True)
class TraceMark:
    """A moment to note on a strip: when the condition first is so."""

    label: str
    when: Condition


@dataclass(frozen=True, slots=True)
class TraceRule:
    """Quantities that are kept over a stretch of flight.

    It runs from `begins` to `ends`, for `longest_s` at most, and keeps the signals of `keep` once in `every_s`.
    `about` names the watches and items whose findings belong to it.
    """

    id: str
    title: str
    begins: Condition
    ends: Condition
    signals: tuple[str, ...]
    interval_s: float
    max_duration_s: float
    limits: tuple[TraceLimit, ...] = ()
    marks: tuple[TraceMark, ...] = ()
    evidence_for: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that is worked out from others: the derived signal, the function, and what it is given.

    `terms` holds the numbers by the function's keywords, in its units; `words` the names of signals that are words;
    `factor` and `offset` bring the result into the signal's unit.  `label` may hold {name} places; `says` is how the
    result came about, with the keywords in braces; the result is rounded to multiples of `step`, 0 for not at all.
    `uses` is what packs call the function.
    """

    signal: Signal
    function: Callable[..., float]
    terms: Mapping[str, Term]
    words: Mapping[str, Signal]
    factor: float
    offset: float
    label: str
    explanation: str
    step: float = 0.0
    uses: str = ""

    @property
    def input_signals(self) -> tuple[str, ...]:
        """The names of the signals that it is worked out from."""
        return tuple(
            dict.fromkeys(
                (*signal_names(*self.terms.values()), *(signal.name for signal in self.words.values()))
            )
        )


@dataclass(frozen=True, slots=True)
class Pack:
    """All of it.  `figures` come each after those that it reads.  `faults` are those of single broken conditions: they are shown, and the rest runs."""

    id: str
    title: str
    version: str
    disclaimer: str
    lineage: tuple[str, ...]
    seats: Mapping[str, str]
    signals: Mapping[str, Signal]
    calls: Mapping[str, Call]
    phases: tuple[Phase, ...]
    items: Mapping[str, Item]
    flows: Mapping[str, Flow]
    checklists: Mapping[str, Checklist]
    gates: tuple[Gate, ...]
    watches: tuple[Watch, ...]
    quiet_periods: tuple[QuietPeriod, ...] = ()
    figures: tuple[Figure, ...] = ()
    traces: tuple[TraceRule, ...] = ()
    callouts: tuple[CalloutRule, ...] = ()
    flight_times: tuple[FlightTimeRule, ...] = ()
    faults: tuple[Fault, ...] = field(default=())
    source_digest: str = ""
