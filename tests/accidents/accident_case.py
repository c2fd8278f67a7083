"""A case: an error, the clean flight on which it is overlaid, and the findings expected before the entry of a gate.

A moment is written as `entry taxi - 20 s`, `cue line_up`, `call trip_sheet_received + 5 s` or `flight.altitude below 9000`
(first time after its highest value), and means a time in the clean flight.

Takes: a YAML file.  Gives: `Case`s, checked against the pack that judges them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from rules.packs.model import FindingKind
from rules.source import read_source
from tests.accidents.day_values import DayNumber, DayValue, RunwayPlace

HERE = Path(__file__).parent
PLACE = ("flight.latitude", "flight.longitude")
_MOMENT = re.compile(r"((?:cue|entry|call) [a-z0-9_]+|[a-z0-9_.]+ below \d+)(?: ([+-]) (\d+(?:\.\d+)?) s)?")


class Moment(NamedTuple):
    """An event of the clean flight, and a time after it."""

    event: str
    after_s: float

    @property
    def crossing(self) -> tuple[str, float] | None:
        """The signal and the value that it falls below, if that is the event."""
        name, below, value = self.event.partition(" below ")
        return (name, float(value)) if below else None


def _moment(text: object) -> object:
    """Parse a moment."""
    found = _MOMENT.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        raise ValueError("expected a moment, such as 'entry taxi - 20 s'")
    event, sign, seconds = found.groups()
    return Moment(event, float(seconds or 0) * (-1 if sign == "-" else 1))


When = Annotated[Moment, BeforeValidator(_moment)]


class _Form(BaseModel):
    """Form without unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Overlay(_Form):
    """Changes of the flight from a moment on, up to another or to the end.

    `put` fixes a signal, `plus` and `times` change its value, `hold` freezes the value that it has at the beginning,
    `ramp` takes it from that value to another one in `ramp_s` seconds, where it stays, and `ramp_plus` to that value and so much
    more; `mute` stops the sender from sending it, so that it becomes stale.  `put_place`, `plus_place` and `ramp_place` are the
    same for the aeroplane's place, along and across a runway of the sheet.  What depends on the day is written relative to its
    sheet (`day_values.py`).
    """

    begins: When
    ends: When | None = None
    put: dict[str, DayValue] = {}
    plus: dict[str, DayNumber] = {}
    times: dict[str, float] = {}
    hold: list[str] = []
    ramp: dict[str, DayNumber] = {}
    ramp_plus: dict[str, DayNumber] = {}
    ramp_s: float = Field(default=10.0, gt=0)
    put_place: RunwayPlace | None = None
    plus_place: RunwayPlace | None = None
    ramp_place: RunwayPlace | None = None
    mute: list[str] = []

    @property
    def names(self) -> set[str]:
        """Signals that it changes."""
        moved = PLACE if self.put_place or self.plus_place or self.ramp_place else ()
        return {
            *self.put, *self.plus, *self.times, *self.hold, *self.ramp, *self.ramp_plus, *self.mute, *moved,
        }  # fmt: skip


class TripChange(_Form):
    """Trip values set at a moment, in the book's units, without `trip.`."""

    at: When
    values: dict[str, DayValue]


class AddedCall(_Form):
    """A call that the clean flight does not have at this moment."""

    call: str
    at: When


class ReturnToEarlier(_Form):
    """Jump at a moment: the clean flight is played again from an earlier one, while the clock goes on."""

    at: When
    back_to: When


class Case(_Form):
    """One case.

    `source` is the source of the facts of a report; `notice_words` are words that a notice must contain; `finds` are all
    findings before the gate's entry, or before `until`; the first is the case's own.  `fits` gives the lowest and highest value
    of the sheet (without `trip.`) with which the case makes sense on another day.
    """

    id: str
    title: str
    report: str = ""
    source: str = ""
    lessons: list[int] = []
    flight: str = "sector"
    fits: dict[str, tuple[float, float]] = {}
    layers: list[Overlay] = []
    trip_changes: list[TripChange] = []
    missing_calls: list[str] = []
    added_calls: list[AddedCall] = []
    jump_back: ReturnToEarlier | None = None
    gate: str = ""
    until: When | None = None
    notice_words: str = ""
    finds: dict[str, FindingKind]

    @model_validator(mode="after")
    def _has_an_end(self) -> Case:
        if bool(self.gate) is (self.until is not None):
            raise ValueError("a case has either a gate or until")
        return self

    @property
    def starts(self) -> list[Moment]:
        """Moments at which an overlay begins."""
        found = [layer.begins for layer in self.layers] + [change.at for change in self.trip_changes]
        found += [added.at for added in self.added_calls]
        return (
            found
            + ([self.jump_back.at] if self.jump_back else [])
            + [Moment(f"call {c}", -1) for c in self.missing_calls]
        )

    @property
    def moments(self) -> list[Moment]:
        """All moments of the overlays, and the last one."""
        ends = [layer.ends for layer in self.layers if layer.ends] + ([self.until] if self.until else [])
        return self.starts + ends


class _File(_Form):
    """Form of a file of cases."""

    cases: list[Case]


def load_cases(name: str, folder: Path = HERE) -> list[Case]:
    """Read a file of cases.

    Args:
        name: Such as `cases.yaml`.
        folder: Its folder; this one if not given.

    Raises:
        InputFaults: The file cannot be read.
        ValidationError: It has an invalid case.
    """
    return _File.model_validate(read_source(folder / name).data).cases
