"""The forms of a pack's entries: which keys each may hold, and what stands under them.

Takes: plain data of an entry.  Gives: the form filled in, or pydantic's errors, which `rules.source` says plainly.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from rules.packs.model import FindingKind, Level
from rules.packs.quantities import Quantity, as_text, parse_limit, parse_quantity, parse_seconds

IDENTIFIER_PATTERN = r"[a-z][a-z0-9_]*"
DISCLAIMER = (
    "For flight simulation only. The operator's procedures, the aircraft's approved manual, local rules and a "
    "qualified instructor come first."
)

Identifier = Annotated[str, StringConstraints(pattern=f"^{IDENTIFIER_PATTERN}$", max_length=60)]
ShortText = Annotated[str, StringConstraints(min_length=1, max_length=400)]
LongText = Annotated[str, StringConstraints(min_length=1, max_length=4000)]
Seconds = Annotated[float, BeforeValidator(parse_seconds)]
LevelField = Annotated[Level, Field(strict=False)]
FindingKindField = Annotated[FindingKind, Field(strict=False)]

# CAST/ICAO common taxonomy team, Phase of Flight: Definitions and Usage Notes, version 1.3, April 2013.
PhaseCode = Literal["STD", "PBT", "TXI", "TOF", "ICL", "ENR", "MNV", "APR", "LDG", "EMG", "UND", "PIM", "UNK"]


class StrictForm(BaseModel):
    """No unknown key, no guessing of kinds."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PackForm(StrictForm):
    """`pack:`, the head of a pack."""

    id: Identifier
    title: ShortText
    version: ShortText = "1"
    extends: ShortText | None = None
    signals: list[Identifier] = []
    disclaimer: ShortText = DISCLAIMER


class SeatForm(StrictForm):
    """One seat; written as its title alone."""

    title: ShortText


class PhaseForm(StrictForm):
    """One phase.  `before` puts a new one in front of a phase of the base pack."""

    title: ShortText
    code: PhaseCode
    before: Identifier | None = None


class LimitForm(StrictForm):
    """A constant of the aeroplane."""

    value: Annotated[Quantity, BeforeValidator(parse_quantity)]
    label: ShortText
    source: ShortText | Literal[""] = ""


class CallForm(StrictForm):
    """Something said that no signal shows."""

    title: ShortText
    by: Identifier


class GateForm(StrictForm):
    """The point before a phase."""

    title: ShortText | None = None
    phase: Identifier
    leaves: list[Identifier] | None = None
    cue: LongText
    entry: LongText
    needs: list[ShortText]


class FlowForm(StrictForm):
    """What a flow says beside its seats."""

    title: ShortText
    phase: Identifier


class ExpectationForm(StrictForm):
    """What every expectation may say of itself."""

    level: LevelField = Level.ADVISORY
    confirm: ShortText | None = None
    after: LongText | None = None
    why: ShortText | Literal[""] = ""
    source: ShortText | Literal[""] = ""
    hold: Seconds = 1.0
    clear: Seconds = 1.0
    finding: FindingKindField | None = None


class ItemForm(ExpectationForm):
    """One item of a flow.  Its key and seat come from where it stands."""

    condition: LongText | None = Field(default=None, exclude=True)
    seat: str = Field(exclude=True)
    label: ShortText | None = None
    follows: list[ShortText] = []


class ChecklistForm(StrictForm):
    """What a checklist says beside its lines."""

    title: ShortText
    read_by: Identifier


class ChecklistLineForm(ExpectationForm):
    """One line of a checklist."""

    challenge: ShortText
    answer: Annotated[str, BeforeValidator(as_text)]
    expect: LongText | None = None
    item: ShortText | None = None
    seat: Identifier | None = None


class WatchForm(StrictForm):
    """A limit that must hold while something is so."""

    label: ShortText
    seat: Identifier
    level: LevelField = Level.CAUTION
    applies: LongText | None = None
    expect: LongText
    phases: list[Identifier] = []
    finding: FindingKindField = FindingKind.LIMIT_EXCEEDED
    hold: Seconds = 0.0
    clear: Seconds = 2.0
    why: ShortText | Literal[""] = ""
    source: ShortText | Literal[""] = ""


class QuietForm(StrictForm):
    """While it applies, these levels are held back; a warning never is."""

    applies: LongText
    holds: Annotated[list[Annotated[Level, Field(strict=False)]], Field(min_length=1)]


class TableForm(StrictForm):
    """Data of the aeroplane, with straight lines between its points."""

    label: ShortText = Field(description="Name of the table in sentences.")
    x: ShortText = Field(description="Unit of the first side.")
    y: ShortText | None = Field(default=None, description="Unit of the second side, where there is one.")
    gives: ShortText = Field(description="Unit of the values.")
    points: Annotated[list[list[float]], Field(min_length=1)] | None = Field(
        default=None, description="With one side: pairs of x and value."
    )
    columns: Annotated[list[float], Field(min_length=1)] | None = Field(
        default=None, description="With two sides: the values of y."
    )
    rows: Annotated[list[list[float]], Field(min_length=1)] | None = Field(
        default=None, description="With two sides: x and the value at each column."
    )
    source: ShortText | Literal[""] = Field(default="", description="Published source of the data.")


class FigureForm(StrictForm):
    """A number that is worked out from others."""

    label: ShortText = Field(
        description="Name of the figure in sentences; {signal} is replaced by its value."
    )
    uses: ShortText = Field(description="Function of the arithmetic, or table.NAME.")
    terms: dict[str, Annotated[LongText, BeforeValidator(as_text)]] = Field(
        alias="with", description="Term for each parameter of the function."
    )
    unit: ShortText = Field(description="Unit of the figure.")
    rounded: Annotated[Quantity, BeforeValidator(parse_quantity)] | None = Field(
        default=None, description="Step to which the result is rounded, with its unit."
    )
    why: ShortText | Literal[""] = Field(default="", description="Meaning of the figure.")
    source: ShortText | Literal[""] = Field(default="", description="Published source.")


class FlightTimeForm(StrictForm):
    """When the aeroplane is out, off, on or in."""

    when: LongText
    phases: list[Identifier] = []
    source: ShortText | Literal[""] = ""


class CalloutForm(StrictForm):
    """What is said aloud at a moment of the flight."""

    text: ShortText
    when: LongText
    phases: list[Identifier] = []
    once_per: Literal["occasion", "phase"] = "occasion"
    why: ShortText | Literal[""] = ""
    source: ShortText | Literal[""] = ""


class TraceLimitForm(StrictForm):
    """A limit to draw: one of the pack by its name, or a number with its unit."""

    signal: ShortText
    limit: Annotated[Quantity | ShortText, BeforeValidator(parse_limit)]
    label: ShortText | None = None


class TraceMarkForm(StrictForm):
    """A moment to note."""

    label: ShortText
    when: LongText


class TraceForm(StrictForm):
    """Quantities that are kept over a stretch of flight."""

    title: ShortText
    begins: LongText
    ends: LongText
    signals: Annotated[list[ShortText], Field(min_length=1)]
    every: Seconds
    longest: Seconds
    limits: list[TraceLimitForm] = []
    marks: list[TraceMarkForm] = []
    evidence_for: list[ShortText] = []
