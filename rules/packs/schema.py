"""Forms of a pack's entries: their keys and the values that these may have.

Takes: plain data of an entry.  Gives: the form, or pydantic's errors, which `rules.source` turns into faults.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from rules.packs.model import FindingKind, Level
from rules.packs.plain_texts import label_text, plain_text
from rules.packs.quantities import Quantity, as_text, parse_limit, parse_quantity, parse_seconds

IDENTIFIER_PATTERN = r"[a-z][a-z0-9_]*"
DISCLAIMER = (
    "For flight simulation only. The operator's procedures, the aircraft's approved manual, local rules and a "
    "qualified instructor come first."
)

Identifier = Annotated[str, StringConstraints(pattern=f"^{IDENTIFIER_PATTERN}$", max_length=60)]
ShortText = Annotated[str, StringConstraints(min_length=1, max_length=400)]
PlainText = Annotated[ShortText, AfterValidator(plain_text)]
LabelText = Annotated[ShortText, AfterValidator(label_text)]
LongText = Annotated[str, StringConstraints(min_length=1, max_length=4000)]
TermText = Annotated[LongText, BeforeValidator(as_text)]
Seconds = Annotated[float, BeforeValidator(parse_seconds)]
LevelField = Annotated[Level, Field(strict=False)]
FindingKindField = Annotated[FindingKind, Field(strict=False)]

# CAST/ICAO common taxonomy team, Phase of Flight: Definitions and Usage Notes, version 1.3, April 2013.
PhaseCode = Literal["STD", "PBT", "TXI", "TOF", "ICL", "ENR", "MNV", "APR", "LDG", "EMG", "UND", "PIM", "UNK"]


class StrictForm(BaseModel):
    """Form without unknown keys and without conversion of types."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, use_attribute_docstrings=True)


class PackForm(StrictForm):
    """Head of a pack, `pack:`."""

    id: Identifier
    """Word that names the pack."""
    title: PlainText
    """One line that names the aeroplane or operator."""
    version: ShortText = "1"
    """Version of the pack; text, so in quotes."""
    extends: ShortText | None = None
    """Folder of the base pack, seen from this one, or the name of a pack that we ship."""
    signals: list[Identifier] = []
    """Names of the signal books that the pack uses; books that we ship."""
    disclaimer: ShortText = DISCLAIMER
    """Sentence that is always shown with the pack."""


class SeatForm(StrictForm):
    """Seat, written as its title alone."""

    title: PlainText
    """Name of the seat."""


class PhaseForm(StrictForm):
    """Phase; `before` puts a new one in front of a phase of the base pack."""

    title: PlainText
    """Name of the phase on screens and in sentences."""
    code: PhaseCode
    """Code of the CAST/ICAO common taxonomy, such as STD, PBT, TXI, TOF, ICL, ENR, APR, LDG."""
    before: Identifier | None = None
    """In an extending pack, the phase of the base before which this one is put."""


class LimitForm(StrictForm):
    """Constant of the aeroplane."""

    value: Annotated[Quantity, BeforeValidator(parse_quantity)]
    """Number with its unit."""
    label: PlainText
    """Name of the limit in sentences."""
    source: ShortText | Literal[""] = ""
    """Published source of the value, or "common practice, no source"."""


class CallForm(StrictForm):
    """Something spoken that no signal shows."""

    title: PlainText
    """Text of the call in sentences."""
    by: Identifier
    """Speaker: a seat, ground, atc, cabin, company or instructor."""
    missing: PlainText | Literal[""] = ""
    """Text while it has not been made: `no push clearance`; otherwise `TITLE has not been called`."""


class GateForm(StrictForm):
    """Point before a phase."""

    title: PlainText | None = None
    """Name of the gate; otherwise the title of its phase."""
    phase: Identifier
    """Phase that begins when the gate is entered."""
    leaves: list[Identifier] | None = None
    """Phases from which the gate can be entered; otherwise every earlier phase."""
    cue: LongText
    """Condition that is true when the crew is about to go."""
    entry: LongText
    """Condition that is true when the phase begins."""
    needs: list[ShortText]
    """Items that must be met: flow NAME, checklist NAME or item ID."""


class FlowForm(StrictForm):
    """Keys of a flow beside its seats."""

    title: PlainText
    """Name of the flow."""
    phase: Identifier
    """Phase in which the flow is done."""
    until: Identifier | None = None
    """Phase up to which its items must stay so, unless an item has its own: each gate between the two phases needs them too."""


class SayForm(StrictForm):
    """Sentences of an item or watch for the crew, instead of the general form; at least one of them."""

    open: Annotated[str, StringConstraints(max_length=400)] | None = None
    """Sentence while it is open, without a stop; {signal} is replaced by its value."""
    met: Annotated[str, StringConstraints(max_length=400)] | None = None
    """Sentence while it is met, in the same way."""


class ExpectationForm(StrictForm):
    """Keys that all items have."""

    level: LevelField = Level.ADVISORY
    """Advisory, caution or warning."""
    confirm: PlainText | None = None
    """Text that the crew confirms, instead of a condition, where no signal shows it."""
    after: LongText | None = None
    """Condition that must be true before the item is met; otherwise the item is too early."""
    why: ShortText | Literal[""] = ""
    """Why the item matters, for the debrief."""
    source: ShortText | Literal[""] = ""
    """Published source of the item, or "common practice, no source"."""
    hold: Seconds = 1.0
    """Time for which it must be open before a finding opens, in s."""
    clear: Seconds = 1.0
    """Time for which it must be met before it counts as met or corrected, in s."""
    finding: FindingKindField | None = None
    """Kind of finding, instead of omitted, undone or wrong_value."""
    told_by: list[ShortText] = []
    """Watches and items that tell the same fact: while one of them is open, this one is not found."""
    owner: Identifier | None = None
    """Who does it, where that is not its seat: ground, cabin, or another speaker of calls; the record books the error there."""
    say: SayForm | None = None
    """Sentences for the crew, with the keys open and met; otherwise "NAME is A, needs B"."""


class ItemForm(ExpectationForm):
    """Item of a flow; its key and seat come from its place in the file."""

    condition: LongText | None = Field(default=None, exclude=True)
    seat: str = Field(exclude=True)
    label: LabelText | None = None
    """Label of the item in sentences, with a `*` for the match; otherwise its key, read as words."""
    follows: list[ShortText] = []
    """Items that must be met first; keys of the same flow, or whole ids."""
    until: Identifier | None = None
    """Phase up to which it must stay so: each gate between its flow's phase and this one needs it too."""


class ChecklistForm(StrictForm):
    """Keys of a checklist beside its lines."""

    title: PlainText
    """Name of the checklist."""
    read_by: Identifier
    """Seat that reads it, or both."""


class ChecklistLineForm(ExpectationForm):
    """Line of a checklist; its challenge is written after its key."""

    challenge: PlainText = Field(exclude=True)
    answer: Annotated[str, BeforeValidator(as_text)]
    """Answer: the state that is seen; {signal} is replaced by its value, and {signal.*} by the values of all that match."""
    items: list[ShortText] = []
    """Ids of the items that the line reads; all must be met."""
    expect: LongText | None = None
    """Condition of the line's own, beside its items."""
    seat: Identifier | None = None
    """Seat that owns the line's own condition; otherwise the reader's."""
    above: Identifier | None = None
    """Key of the line above which this one is put."""
    below: Identifier | None = None
    """Key of the line below which this one is put."""


class WatchForm(StrictForm):
    """Limit that must hold while a condition applies."""

    label: LabelText
    """Label of the watch in sentences, with a `*` for the match."""
    seat: Identifier
    """Seat that is warned."""
    level: LevelField = Level.CAUTION
    """Advisory, caution or warning."""
    applies: LongText | None = None
    """Condition under which the limit applies; otherwise always."""
    expect: LongText
    """Condition that must hold."""
    phases: list[Identifier] = []
    """Phases in which the watch applies; otherwise all."""
    finding: FindingKindField = FindingKind.LIMIT_EXCEEDED
    """Kind of its finding."""
    owner: Identifier | None = None
    """Who does it, where that is not the seat that is warned: ground, cabin, or another speaker of calls."""
    hold: Seconds = 0.0
    """Time for which it must not hold before a finding opens, in s."""
    clear: Seconds = 2.0
    """Time for which it must hold again before it counts as corrected, in s."""
    repeat: Literal["yes", "no"] = "yes"
    """`no`: it is told once, since its drill takes minutes."""
    say: SayForm | None = None
    """Sentences for the crew, with the keys open and met; otherwise "NAME is A, needs B"."""
    why: ShortText | Literal[""] = ""
    """Why the limit matters, for the debrief."""
    source: ShortText | Literal[""] = ""
    """Published source of the limit, or "common practice, no source"."""


class QuietForm(StrictForm):
    """Period in which notices of some levels are held back; a warning only where its watch is named."""

    applies: LongText
    """Condition under which notices are held back."""
    holds: Annotated[list[Annotated[Level, Field(strict=False)]], Field(min_length=1)]
    """Levels that are held back; advisory, caution."""
    watches: list[Identifier] = []
    """Watches that are held back whatever their level: what needs no action at this moment of the flight."""


class TableForm(StrictForm):
    """Data of the aeroplane, with linear interpolation between its points, or in steps."""

    label: PlainText
    """Name of the table in sentences."""
    x: ShortText
    """Unit of the first side."""
    y: ShortText | None = None
    """Unit of the second side, where there is one."""
    gives: ShortText
    """Unit of the values."""
    points: Annotated[list[list[float]], Field(min_length=1)] | None = None
    """With one side: pairs of x and value."""
    steps: Annotated[list[list[float]], Field(min_length=1)] | None = None
    """With one side, in steps: pairs of x and the value that holds from there until the next."""
    columns: Annotated[list[float], Field(min_length=1)] | None = None
    """With two sides: the values of y."""
    rows: Annotated[list[list[float]], Field(min_length=1)] | None = None
    """With two sides: x and the value at each column."""
    source: ShortText | Literal[""] = ""
    """Published source of the data."""


class FigureForm(StrictForm):
    """Number that is computed from others."""

    label: ShortText
    """Name of the figure in sentences; {signal} is replaced by its value."""
    uses: ShortText
    """Function of the arithmetic, or table.NAME."""
    terms: dict[str, TermText] = Field(alias="with")
    """Term for each parameter of the function."""
    unit: ShortText
    """Unit of the figure."""
    rounded: Annotated[Quantity, BeforeValidator(parse_quantity)] | None = None
    """Step to which texts round the result, with its unit; the result itself is judged."""
    sides: Annotated[list[PlainText], Field(min_length=2, max_length=2)] | None = None
    """Words for a negative and a positive result, said after its size instead of a sign: [left, right]."""
    why: ShortText | Literal[""] = ""
    """Meaning of the figure."""
    source: ShortText | Literal[""] = ""
    """Published source."""


class EstimateSourceForm(StrictForm):
    """One source of an estimate."""

    is_true: LongText | None = Field(default=None, alias="is")
    """Condition that is true for yes and false for no."""
    yes: LongText | None = None
    """Condition that shows yes."""
    no: LongText | None = None
    """Condition that shows no."""
    value: TermText | None = None
    """Term for the number."""
    doubt: TermText | None = None
    """With value: how far the number may be from it."""
    least: TermText | None = None
    """Term for the least that the number can be."""
    most: TermText | None = None
    """Term for the most that the number can be."""
    while_true: LongText | None = Field(default=None, alias="while")
    """Condition while which the source counts; otherwise always."""


class EstimateForm(StrictForm):
    """Yes or no, or a number, from the best signals that are received."""

    label: ShortText
    """Text of the estimate in sentences, such as the aeroplane is in the air."""
    unit: ShortText | None = None
    """Unit of a number, `1` for none; yes or no has none."""
    sources: Annotated[list[EstimateSourceForm], Field(min_length=1, alias="from")]
    """Sources, the best one first."""
    why: ShortText | Literal[""] = ""
    """Meaning of the estimate, and why its numbers are what they are."""
    source: ShortText | Literal[""] = ""
    """Published source of its numbers, or "common practice, no source"."""


class FlightTimeForm(StrictForm):
    """Condition for out, off, on or in."""

    when: LongText
    """Condition that is true at the moment."""
    phases: list[Identifier] = []
    """Phases in which the moment counts; otherwise all."""
    source: ShortText | Literal[""] = ""
    """Published source, or "common practice, no source"."""


class CalloutForm(StrictForm):
    """Text that is spoken at a moment of the flight."""

    text: ShortText
    """Text that is spoken; {signal} is replaced by its value."""
    when: LongText
    """Condition: the callout is made when it becomes true."""
    phases: list[Identifier] = []
    """Phases in which it is made; otherwise all."""
    once_per: Literal["occasion", "phase"] = "occasion"
    """`occasion` for each time, `phase` for at most once after each change of the phase."""
    why: ShortText | Literal[""] = ""
    """Why it is made, for the debrief."""
    source: ShortText | Literal[""] = ""
    """Published source, or "common practice, no source"."""


class TraceLimitForm(StrictForm):
    """Limit to draw: the name of a limit of the pack, or a number with its unit."""

    signal: ShortText
    """Recorded signal beside which it is drawn."""
    limit: Annotated[Quantity | ShortText, BeforeValidator(parse_limit)]
    """Name of a limit of the pack, or a number with its unit."""
    label: PlainText | None = None
    """Name of the limit; otherwise the limit's own."""


class TraceMarkForm(StrictForm):
    """Moment to mark."""

    label: PlainText
    """Name of the mark."""
    when: LongText
    """Condition whose first moment in the trace is marked."""


class TraceForm(StrictForm):
    """Time history of some signals over a part of the flight."""

    title: PlainText
    """Name of the trace."""
    begins: LongText
    """Condition at which recording begins."""
    ends: LongText
    """Condition at which recording ends."""
    signals: Annotated[list[ShortText], Field(min_length=1)]
    """Signals that are recorded, each once."""
    every: Seconds
    """Time between two samples, in s; more than 0."""
    longest: Seconds
    """Time after which the trace ends in any case, in s."""
    limits: list[TraceLimitForm] = []
    """Limits to draw beside the signals."""
    marks: list[TraceMarkForm] = []
    """Moments to mark."""
    evidence_for: list[ShortText] = []
    """Watches and items whose findings belong to the trace; otherwise every watch that reads a recorded signal."""
