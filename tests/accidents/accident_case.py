"""A case: an error, the clean flight on which it is overlaid, and the findings expected before the entry of a gate.

A moment is written as `entry taxi - 20 s`, `cue line_up` or `call trip_sheet_received + 5 s`, and means a time in the
clean flight.

Takes: a YAML file.  Gives: `Case`s, checked against the pack that judges them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from rules.packs.model import FindingKind
from rules.signals.model import Value
from rules.source import read_source

HERE = Path(__file__).parent
_MOMENT = re.compile(r"(cue|entry|call) ([a-z0-9_]+)(?: ([+-]) (\d+(?:\.\d+)?) s)?")


class Moment(NamedTuple):
    """An event of the clean flight, and a time after it."""

    event: str
    after_s: float


def _moment(text: object) -> object:
    """Parse a moment."""
    found = _MOMENT.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        raise ValueError("expected a moment, such as 'entry taxi - 20 s'")
    kind, name, sign, seconds = found.groups()
    return Moment(f"{kind} {name}", float(seconds or 0) * (-1 if sign == "-" else 1))


When = Annotated[Moment, BeforeValidator(_moment)]


class _Form(BaseModel):
    """Form without unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Overlay(_Form):
    """Changes of the flight from a moment on, up to another or to the end.

    `put` fixes a signal, `plus` and `times` change its value, `hold` freezes the value that it has at the beginning,
    `ramp` takes it from that value to another one in `ramp_s` seconds, where it stays; `mute` stops the sender from
    sending it, so that it becomes stale.
    """

    begins: When
    ends: When | None = None
    put: dict[str, Value] = {}
    plus: dict[str, float] = {}
    times: dict[str, float] = {}
    hold: list[str] = []
    ramp: dict[str, float] = {}
    ramp_s: float = Field(default=10.0, gt=0)
    mute: list[str] = []

    @property
    def names(self) -> set[str]:
        """Signals that it changes."""
        return {*self.put, *self.plus, *self.times, *self.hold, *self.ramp, *self.mute}


class TripChange(_Form):
    """Trip values set at a moment, in the book's units, without `trip.`."""

    at: When
    values: dict[str, Value]


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
    findings before the gate's entry, or before `until`; the first is the case's own.
    """

    id: str
    title: str
    report: str = ""
    source: str = ""
    lessons: list[int] = []
    flight: str = "sector"
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
