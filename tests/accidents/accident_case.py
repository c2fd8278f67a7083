"""A case: what was wrong, laid over which clean flight, and what must be found before which gate's entry.

A moment is written as `entry taxi - 20 s`, `cue line_up` or `call papers_received + 5 s`: it is one of the clean flight.

Takes: a YAML file.  Gives: `Case`s, checked against the pack that judges them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from rules.packs.model import FindingKind
from rules.signals.model import Value
from rules.source import read_source

HERE = Path(__file__).parent
_MOMENT = re.compile(r"(cue|entry|call) ([a-z0-9_]+)(?: ([+-]) (\d+(?:\.\d+)?) s)?")


class Moment(NamedTuple):
    """An event of the clean flight, and how long after it."""

    event: str
    after_s: float


def _moment(said: object) -> object:
    """Read a moment as it is written."""
    found = _MOMENT.fullmatch(said) if isinstance(said, str) else None
    if found is None:
        raise ValueError("expected a moment, such as 'entry taxi - 20 s'")
    kind, name, sign, seconds = found.groups()
    return Moment(f"{kind} {name}", float(seconds or 0) * (-1 if sign == "-" else 1))


When = Annotated[Moment, BeforeValidator(_moment)]


class _Form(BaseModel):
    """Nothing that is not known, nothing that changes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Overlay(_Form):
    """What is laid over the flight from a moment on, up to another or to the end.

    `put` fixes a signal, `plus` and `times` change what it says, `hold` lets it say for ever what it said at the beginning,
    `mute` lets the sender leave it out, so that it grows old.
    """

    begins: When
    ends: When | None = None
    put: dict[str, Value] = {}
    plus: dict[str, float] = {}
    times: dict[str, float] = {}
    hold: list[str] = []
    mute: list[str] = []

    @property
    def names(self) -> set[str]:
        """Every signal that it changes."""
        return {*self.put, *self.plus, *self.times, *self.hold, *self.mute}


class TripChange(_Form):
    """Papers that are given out at a moment; values in the book's units, without `trip.`."""

    at: When
    values: dict[str, Value]


class ReturnToEarlier(_Form):
    """From a moment on the clean flight is played anew from an earlier one, the clock going on."""

    at: When
    back_to: When


class Case(_Form):
    """One case.

    `seen` says where the facts of a report are from; `says` is what a notice must have in its words; `finds` is all that
    is found before the gate's entry, the first of them the one that the case is about.
    """

    id: str
    title: str
    report: str = ""
    seen: str = ""
    lessons: list[int] = Field(min_length=1)
    flight: str = "sector"
    layers: list[Overlay] = []
    papers: list[TripChange] = []
    uncalled: list[str] = []
    again: ReturnToEarlier | None = None
    gate: str
    says: str = ""
    finds: dict[str, FindingKind]

    @property
    def starts(self) -> list[Moment]:
        """Every moment at which something is laid over."""
        found = [layer.begins for layer in self.layers] + [papers.at for papers in self.papers]
        return (
            found + ([self.again.at] if self.again else []) + [Moment(f"call {c}", -1) for c in self.uncalled]
        )


class _File(_Form):
    """A file of cases."""

    cases: list[Case]


def load_cases(name: str) -> list[Case]:
    """Read a file of cases that lies beside this module.

    Args:
        name: Such as `cases.yaml`.

    Raises:
        InputFaults: The file cannot be read.
        ValidationError: It has a case that is none.
    """
    return _File.model_validate(read_source(HERE / name).data).cases
