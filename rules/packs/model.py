"""Loaded packs: phases, gates, flows, checklists and watches, with checked conditions.

Takes: nothing.  Gives: frozen types, built by `load_pack` and run by `rules.judge`.
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

SPEAKERS = ("ground", "atc", "cabin", "company", "instructor")
"""Who may make calls beside the seats."""

TABLE_PREFIX = "table."
"""`uses` of a figure from a table of the pack begins with this."""


class Level(StrEnum):
    """Alert levels as 14 CFR 25.1322(b) orders them."""

    ADVISORY = "advisory"
    CAUTION = "caution"
    WARNING = "warning"


AEROPLANE = "aeroplane"
"""Owner of an event of the aeroplane, in the place of a seat."""

_TITLES = {
    "ground": "Ground",
    "atc": "ATC",
    "cabin": "Cabin",
    "company": "Company",
    "instructor": "Instructor",
    AEROPLANE: "Aeroplane",
}


def owner_title(seats: Mapping[str, str], owner: str) -> str:
    """Give the title of who owns an item or makes a call: of a seat that of the pack, of a person the name itself."""
    return seats.get(owner) or _TITLES.get(owner, owner)


class FindingKind(StrEnum):
    """Kind of finding: of error, but for the last two."""

    OMITTED = "omitted"
    UNDONE = "undone"
    TOO_EARLY = "too_early"
    OUT_OF_ORDER = "out_of_order"
    WRONG_VALUE = "wrong_value"
    LIMIT_EXCEEDED = "limit_exceeded"
    LATE = "late"
    NOT_VERIFIABLE = "not_verifiable"
    AEROPLANE_EVENT = "aeroplane_event"


@dataclass(frozen=True, slots=True)
class Phase:
    """Part of the flight; `code` is from the CAST/ICAO common taxonomy (STD, PBT, TXI, TOF, ...)."""

    id: str
    title: str
    code: str


@dataclass(frozen=True, slots=True)
class Call:
    """Something spoken that no signal shows; `by` is the speaker (ground, atc, cabin, or a seat)."""

    id: str
    title: str
    by: str


def declared_id(rule: str) -> str:
    """Id under which a pack declares an item or watch: without the match of its `*`."""
    parts = rule.split(".")
    return ".".join(parts[: 2 if parts[0] == "watch" else 3])


@dataclass(frozen=True, slots=True)
class OwnSentences:
    """Sentences for the crew while an item or watch is open, and while it is met; '' for the general form.

    They may hold placeholders; `shown` are the signals of each.
    """

    open: str = ""
    met: str = ""
    shown: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Item:
    """Item with either a `condition` (a signal shows it) or a `confirm` (only the crew can confirm it).

    `id` is `flow.NAME.KEY`; conditions refer to it as `flow.KEY is met` or by the whole id.  An item whose condition has
    a `*` is one item for each match, `flow.NAME.KEY.MATCH`.
    `after` must be true before the item is done, otherwise it is too early.  `follows` are items that come first in a
    strict order, otherwise it is out of order.  `hold_s` is how long it must be unmet before a finding opens, `clear_s`
    how long it must be met before it counts as corrected.  `finding` replaces the kind of finding.  `owner` is who
    does it where the seat that is warned does not, such as the ground crew; '' for the seat.  `told_by` are the watches and
    items, as they are declared, that tell the same fact.
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
    told_by: tuple[str, ...] = ()
    owner: str = ""
    waived: str = ""
    signals: tuple[str, ...] = ()
    say: OwnSentences = field(default_factory=OwnSentences)


@dataclass(frozen=True, slots=True)
class Flow:
    """Items by seat; seats work in parallel, and within a seat an order applies only where an item has one."""

    id: str
    title: str
    phase: str
    seats: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ChecklistLine:
    """Line of a checklist; `id` is `checklist.NAME.KEY`.

    It is met when all of its `items` are: those of flows that it reads, each match of them, and one with its own id where
    it has a condition or is confirmed.  `answer` may hold placeholders; `shown` are the signals of each.
    """

    id: str
    challenge: str
    answer: str
    items: tuple[str, ...]
    shown: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Checklist:
    """Challenge and response, read by one seat (or both), each line with its items."""

    id: str
    title: str
    read_by: str
    lines: tuple[ChecklistLine, ...]


@dataclass(frozen=True, slots=True)
class Gate:
    """Point before a phase: `cue` (the crew is about to go), `entry` (the phase begins), `needs` (item ids).

    It can be cued and entered while the present phase is one of `leaves` (by default all earlier phases).
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
    """Limit that must hold while its condition applies, independent of gates.

    `id` is `watch.NAME`; a watch with a `*` is one watch for each match, `watch.NAME.MATCH`.  `owner` is as of an item.
    """

    id: str
    label: str
    seat: str
    level: Level
    applies: Condition | None
    expect: Condition
    phases: tuple[str, ...] = ()
    finding: FindingKind = FindingKind.LIMIT_EXCEEDED
    owner: str = ""
    hold_s: float = 0.0
    clear_s: float = 2.0
    repeats: bool = True
    why: str = ""
    source: str = ""
    say: OwnSentences = field(default_factory=OwnSentences)


@dataclass(frozen=True, slots=True)
class QuietPeriod:
    """While `applies` is true, notices of these levels and watches are held back, and summed up afterwards."""

    id: str
    applies: Condition
    holds: tuple[Level, ...]
    watches: frozenset[str] = frozenset()
    """Ids of watches as they are declared, without the word of a match."""


class OooiMoment(StrEnum):
    """Moment of a flight in a journey log."""

    OUT = "out"
    OFF = "off"
    ON = "on"
    IN = "in"


@dataclass(frozen=True, slots=True)
class FlightTimeRule:
    """Condition of one of the four moments, and the phases in which it counts (all where none is named)."""

    moment: OooiMoment
    when: Condition
    phases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CalloutRule:
    """Text that is spoken when `when` becomes true, in `phases` (all where none is named).

    `text` may hold placeholders; `shown` are the signals of each.  `once_per_phase` limits it to once after each change of the phase.
    """

    id: str
    text: str
    when: Condition
    phases: tuple[str, ...] = ()
    once_per_phase: bool = False
    shown: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


class TraceLimit(msgspec.Struct, frozen=True):
    """Limit to draw beside a signal of a trace; `value` is in the signal's unit."""

    signal: str = msgspec.field(name="signal")
    value: float = msgspec.field(name="value")
    label: str = msgspec.field(name="label")


@dataclass(frozen=True, slots=True)
class TraceMark:
    """Moment to mark in a trace: when the condition is first true."""

    label: str
    when: Condition


@dataclass(frozen=True, slots=True)
class TraceRule:
    """Time history of some signals over a part of the flight.

    It runs from `begins` to `ends`, at most for `max_duration_s`, with one sample of `signals` in each `interval_s`.
    `evidence_for` names the watches and items whose findings belong to it.
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
    """Number that is computed from others: its signal, the function, and the arguments.

    `terms` holds the numeric arguments by the function's keywords, in its units; `words` the signals that are words;
    `factor` and `offset` convert the result to the signal's unit.  `label` may hold {name} placeholders; `explanation`
    says how the result was computed, with the keywords in braces; `uses` is the function's name in packs.
    """

    signal: Signal
    function: Callable[..., float]
    terms: Mapping[str, Term]
    words: Mapping[str, Signal]
    factor: float
    offset: float
    label: str
    explanation: str
    uses: str = ""

    @property
    def uses_table(self) -> bool:
        """True if it is looked up in a table of the pack."""
        return self.uses.startswith(TABLE_PREFIX)

    @property
    def input_signals(self) -> tuple[str, ...]:
        """Names of the signals from which it is computed."""
        return tuple(
            dict.fromkeys(
                (*signal_names(*self.terms.values()), *(signal.name for signal in self.words.values()))
            )
        )


@dataclass(frozen=True, slots=True)
class Pack:
    """Rules of one aeroplane or operator.

    Each of `figures` comes after those that it reads.  `faults` are those of single conditions: they are shown, and the
    rest of the pack works.  `source_digest` is a hash of the files, '' for a pack that was not loaded from files.
    """

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
