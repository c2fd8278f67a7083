"""Types of a checked map: the field that feeds each signal, and its conversion.

Takes: nothing.  Gives: the frozen types between the map file and the mapper.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from rules.signals.model import Value

TIME_NAMES = ("time", "Time", "t", "sim_s")
NUMBER_NAMES = ("sequence", "seq")
"""Names of the fields with the sender's clock and sequence number, where no map names others."""


@dataclass(frozen=True, slots=True)
class FieldSource:
    """Source of a value: a named field, or a column by its position from 1; optionally one bit of it."""

    name: str = ""
    position: int = 0
    bit: int | None = None

    def __str__(self) -> str:
        """Write `N2_1`, `column 3` or `bit 5 of FLAGS`."""
        whole = self.name or f"column {self.position}"
        return whole if self.bit is None else f"bit {self.bit} of {whole}"


@dataclass(frozen=True, slots=True)
class ValueRange:
    """Raw numbers from `low` to `high`, both included, that mean one value."""

    low: float
    high: float
    value: Value


@dataclass(frozen=True, slots=True)
class Threshold:
    """Rule that turns a number into one of two words."""

    at_least: float
    then: str
    otherwise: str


@dataclass(frozen=True, slots=True)
class ValidityRule:
    """Rule that allows a value while another field has one of the accepted values."""

    source: FieldSource
    accepted: frozenset[float | str] = frozenset({1.0})
    invert: bool = False


@dataclass(frozen=True, slots=True)
class FieldMapping:
    """Mapping of a field to one signal.

    Attributes:
        signal: The signal's name.
        source: The field or column.
        scale: Factor of the raw number.
        offset: Added after `scale`; the result is in `unit`.
        unit: The unit of the scaled number; '' is the signal's own.
        words: Values by raw word or number.
        ranges: Values by range of raw numbers.
        invert: True exchanges the two words of a switch.
        threshold: Rule that turns a number into one of two words.
        validity: Rule of another field that allows the value.
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
    """Plan of a whole map.

    Attributes:
        fields: The mapped signals.
        same_names: True where a field with a signal's name feeds that signal, unless the signal is mapped.
        time: The possible sources of the clock; the first that is sent counts.
        time_scale: Seconds in one unit of the clock.
        sequence: The possible sources of the sequence number.
        paused: The source of the pause.
        calls: Calls, each with the source of its time, besides fields called `call.NAME`.
    """

    fields: tuple[FieldMapping, ...] = ()
    same_names: bool = True
    time: tuple[FieldSource, ...] = tuple(FieldSource(name) for name in TIME_NAMES)
    time_scale: float = 1.0
    sequence: tuple[FieldSource, ...] = tuple(FieldSource(name) for name in NUMBER_NAMES)
    paused: FieldSource | None = None
    calls: tuple[tuple[str, FieldSource], ...] = field(default=())


IDENTITY = MapPlan()
"""Plan without a map file: fields have the signals' names, units and words; 0 and 1 also set a switch."""
