"""The forms of a pack's entries: which keys each may hold, and what stands under them.

Takes: plain data of an entry.  Gives: the form filled in, or pydantic's errors, which `rules.source` says plainly.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from rules.packs.model import FindingKind, Level
from rules.packs.values import Quantity, as_text, limit_of, quantity_of, seconds_of

WORD = r"[a-z][a-z0-9_]*"
CAUTION = (
    "For flight simulation only. The operator's procedures, the aircraft's approved manual, local rules and a "
    "qualified instructor come first."
)

Word = Annotated[str, StringConstraints(pattern=f"^{WORD}$", max_length=60)]
Words = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Written = Annotated[str, StringConstraints(min_length=1, max_length=4000)]
Seconds = Annotated[float, BeforeValidator(seconds_of)]
AnyLevel = Annotated[Level, Field(strict=False)]
AnyFinding = Annotated[FindingKind, Field(strict=False)]

# CAST/ICAO common taxonomy team, Phase of Flight: Definitions and Usage Notes, version 1.3, April 2013.
Code = Literal["STD", "PBT", "TXI", "TOF", "ICL", "ENR", "MNV", "APR", "LDG", "EMG", "UND", "PIM", "UNK"]


class Strict(BaseModel):
    """No unknown key, no guessing of kinds."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PackForm(Strict):
    """`pack:`, the head of a pack."""

    id: Word
    title: Words
    version: Words = "1"
    extends: Words | None = None
    signals: list[Word] = []
    caution: Words = CAUTION


class SeatForm(Strict):
    """One seat; written as its title alone."""

    title: Words


class PhaseForm(Strict):
    """One phase.  `before` puts a new one in front of a phase of the base pack."""

    title: Words
    code: Code
    before: Word | None = None


class LimitForm(Strict):
    """A constant of the aeroplane."""

    value: Annotated[Quantity, BeforeValidator(quantity_of)]
    label: Words
    source: Words | Literal[""] = ""


class CallForm(Strict):
    """Something said that no signal shows."""

    title: Words
    by: Word


class GateForm(Strict):
    """The point before a phase."""

    title: Words | None = None
    phase: Word
    leaves: list[Word] | None = None
    cue: Written
    entry: Written
    needs: list[Words]


class FlowForm(Strict):
    """What a flow says beside its seats."""

    title: Words
    phase: Word


class Judged(Strict):
    """What every expectation may say of itself."""

    level: AnyLevel = Level.ADVISORY
    confirm: Words | None = None
    after: Written | None = None
    why: Words | Literal[""] = ""
    source: Words | Literal[""] = ""
    hold: Seconds = 1.0
    clear: Seconds = 1.0
    finding: AnyFinding | None = None


class ItemForm(Judged):
    """One item of a flow.  Its key and seat come from where it stands."""

    condition: Written | None = Field(default=None, exclude=True)
    seat: str = Field(exclude=True)
    label: Words | None = None
    follows: list[Words] = []


class ChecklistForm(Strict):
    """What a checklist says beside its lines."""

    title: Words
    read_by: Word


class LineForm(Judged):
    """One line of a checklist."""

    challenge: Words
    answer: Annotated[str, BeforeValidator(as_text)]
    expect: Written | None = None
    item: Words | None = None
    seat: Word | None = None


class WatchForm(Strict):
    """A limit that must hold while something is so."""

    label: Words
    seat: Word
    level: AnyLevel = Level.CAUTION
    applies: Written | None = None
    expect: Written
    phases: list[Word] = []
    finding: AnyFinding = FindingKind.LIMIT_EXCEEDED
    hold: Seconds = 0.0
    clear: Seconds = 2.0
    why: Words | Literal[""] = ""
    source: Words | Literal[""] = ""


class QuietForm(Strict):
    """While it applies, these levels are held back; a warning never is."""

    applies: Written
    holds: Annotated[list[Annotated[Level, Field(strict=False)]], Field(min_length=1)]


class TableForm(Strict):
    """Data of the aeroplane, with straight lines between its points."""

    label: Words
    x: Words
    y: Words | None = None
    gives: Words
    points: Annotated[list[list[float]], Field(min_length=1)] | None = None
    columns: Annotated[list[float], Field(min_length=1)] | None = None
    rows: Annotated[list[list[float]], Field(min_length=1)] | None = None
    source: Words | Literal[""] = ""


class FigureForm(Strict):
    """A number that is worked out from others."""

    label: Words
    uses: Words
    terms: dict[str, Annotated[Written, BeforeValidator(as_text)]] = Field(alias="with")
    unit: Words
    rounded: Annotated[Quantity, BeforeValidator(quantity_of)] | None = None
    why: Words | Literal[""] = ""
    source: Words | Literal[""] = ""


class TimeForm(Strict):
    """When the aeroplane is out, off, on or in."""

    when: Written
    phases: list[Word] = []
    source: Words | Literal[""] = ""


class CalloutForm(Strict):
    """What is said aloud at a moment of the flight."""

    say: Words
    when: Written
    phases: list[Word] = []
    once_per: Literal["occasion", "phase"] = "occasion"
    why: Words | Literal[""] = ""
    source: Words | Literal[""] = ""


class StripLimitForm(Strict):
    """A limit to draw: one of the pack by its name, or a number with its unit."""

    signal: Words
    limit: Annotated[Quantity | Words, BeforeValidator(limit_of)]
    label: Words | None = None


class StripMarkForm(Strict):
    """A moment to note."""

    label: Words
    when: Written


class StripForm(Strict):
    """Quantities that are kept over a stretch of flight."""

    title: Words
    begins: Written
    ends: Written
    keep: Annotated[list[Words], Field(min_length=1)]
    every: Seconds
    longest: Seconds
    limits: list[StripLimitForm] = []
    marks: list[StripMarkForm] = []
    about: list[Words] = []
