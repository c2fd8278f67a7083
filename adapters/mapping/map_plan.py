"""What a map says, ready to run: which field feeds which signal, and how.

Takes: nothing.  Gives: the frozen types between the map file and the mapper.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from rules.signals.model import Value

TIME_NAMES = ("time", "Time", "t", "sim_s")
NUMBER_NAMES = ("sequence", "seq")
"""The names under which a sender's clock and count are looked for where no map says."""

CALL_PREFIX = "call."
"""A field `call.NAME` holds the simulator's time at which that call was made."""


@dataclass(frozen=True, slots=True)
class FieldSource:
    """Where a value stands: a named field, or a column by its position from 1; of a word, perhaps one bit."""

    name: str = ""
    position: int = 0
    bit: int | None = None

    def __str__(self) -> str:
        """`N2_1`, `column 3`, `bit 5 of FLAGS`."""
        whole = self.name or f"column {self.position}"
        return whole if self.bit is None else f"bit {self.bit} of {whole}"


@dataclass(frozen=True, slots=True)
class ValueRange:
    """Raw numbers from `low` to `high`, both belonging, that mean one value."""

    low: float
    high: float
    value: Value


@dataclass(frozen=True, slots=True)
class Threshold:
    """A number that becomes one of two words."""

    at_least: float
    then: str
    otherwise: str


@dataclass(frozen=True, slots=True)
class ValidityRule:
    """Another field that says whether the value may be used: when it `is` one of these."""

    source: FieldSource
    accepted: frozenset[float | str] = frozenset({1.0})
    invert: bool = False


@dataclass(frozen=True, slots=True)
class FieldMapping:
    """How one signal is read.

    The raw number times `scale` plus `offset` is in `unit` ('' is the signal's own); `words` and `bands` give
    values to raw words and numbers; `invert` turns a switch round.
    """

    signal: str
    source: FieldSource
    scale: float = 1.0
    offset: float = 0.0
    unit: str = ""
    words: tuple[tuple[float | str, Value], ...] = ()
    ranges: tuple[ValueRange, ...] = ()
    invert: bool = False
    threshold: Threshold | None = None
    validity: ValidityRule | None = None


@dataclass(frozen=True, slots=True)
class MapPlan:
    """A whole map.

    `same_names`: a field that bears a signal's name is taken as it is, unless that signal is bound. `time` times
    `time_scale` is seconds. `calls` are fields that tell calls under other names than `call.NAME`.
    """

    fields: tuple[FieldMapping, ...] = ()
    same_names: bool = True
    time: tuple[FieldSource, ...] = tuple(FieldSource(name) for name in TIME_NAMES)
    time_scale: float = 1.0
    sequence: tuple[FieldSource, ...] = tuple(FieldSource(name) for name in NUMBER_NAMES)
    paused: FieldSource | None = None
    calls: tuple[tuple[str, FieldSource], ...] = field(default=())


IDENTITY = MapPlan()
"""No map file: names are signal names, units the book's, words words, 0 and 1 do for a switch."""
