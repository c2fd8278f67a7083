"""Forms of a pack's entries: their keys and the values that these may have.

Takes: plain data of an entry.  Gives: the form, or pydantic's errors, which `rules.source` turns into faults.
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
    """Form without unknown keys and without conversion of types."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PackForm(StrictForm):
    """Head of a pack, `pack:`."""

    id: Identifier
    title: ShortText
    version: ShortText = "1"
    extends: ShortText | None = None
    signals: list[Identifier] = []
    disclaimer: ShortText = DISCLAIMER


class SeatForm(StrictForm):
    """Seat, written as its title alone."""

    title: ShortText


class PhaseForm(StrictForm):
    """Phase; `before` puts a new one in front of a phase of the base pack."""

    title: ShortText
    code: PhaseCode
    before: Identifier | None = None


class LimitForm(StrictForm):
    """Constant of the aeroplane."""

    value: Annotated[Quantity, BeforeValidator(parse_quantity)]
    label: ShortText
    source: ShortText | Literal[""] = ""


class CallForm(StrictForm):
    """Something said that no signal shows."""

    title: ShortText
    by: Identifier


class GateForm(StrictForm):
    """Point before a phase."""

    title: ShortText | None = None
    phase: Identifier
    leaves: list[Identifier] | None = None
    cue: LongText
    entry: LongText
    needs: list[ShortText]


class FlowForm(StrictForm):
    """Keys of a flow beside its seats."""

    title: ShortText
    phase: Identifier


class ExpectationForm(StrictForm):
    """Keys that all expectations have."""

    level: LevelField = Level.ADVISORY
    confirm: ShortText | None = None
    after: LongText | None = None
    why: ShortText | Literal[""] = ""
    source: ShortText | Literal[""] = ""
    hold: Seconds = 1.0
    clear: Seconds = 1.0
    finding: FindingKindField | None = None


class ItemForm(ExpectationForm):
    """Item of a flow; its key and seat come from its place in the file."""

    condition: LongText | None = Field(default=None, exclude=True)
    seat: str = Field(exclude=True)
    label: ShortText | None = None
    follows: list[ShortText] = []


class ChecklistForm(StrictForm):
    """Keys of a checklist beside its lines."""

    title: ShortText
    read_by: Identifier


class ChecklistLineForm(ExpectationForm):
    """Line of a checklist."""

    challenge: ShortText
    answer: Annotated[str, BeforeValidator(as_text)]
    expect: LongText | None = None
    item: ShortText | None = None
    seat: Identifier | None = None


class WatchForm(StrictForm):
    """Limit that must hold while a condition applies."""

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
    """Period in which notices of some levels are held back; a warning never is."""

    applies: LongText
    holds: Annotated[list[Annotated[Level, Field(strict=False)]], Field(min_length=1)]


class TableForm(StrictForm):
    """Data of the aeroplane, with linear interpolation between its points."""

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
    """Number that is computed from others."""

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
    """Condition for out, off, on or in."""

    when: LongText
    phases: list[Identifier] = []
    source: ShortText | Literal[""] = ""


class CalloutForm(StrictForm):
    """Text that is spoken at a moment of the flight."""

    text: ShortText
    when: LongText
    phases: list[Identifier] = []
    once_per: Literal["occasion", "phase"] = "occasion"
    why: ShortText | Literal[""] = ""
    source: ShortText | Literal[""] = ""


class TraceLimitForm(StrictForm):
    """Limit to draw: the name of a limit of the pack, or a number with its unit."""

    signal: ShortText
    limit: Annotated[Quantity | ShortText, BeforeValidator(parse_limit)]
    label: ShortText | None = None


class TraceMarkForm(StrictForm):
    """Moment to mark."""

    label: ShortText
    when: LongText


class TraceForm(StrictForm):
    """Time history of some signals over a part of the flight."""

    title: ShortText
    begins: LongText
    ends: LongText
    signals: Annotated[list[ShortText], Field(min_length=1)]
    every: Seconds
    longest: Seconds
    limits: list[TraceLimitForm] = []
    marks: list[TraceMarkForm] = []
    evidence_for: list[ShortText] = []
