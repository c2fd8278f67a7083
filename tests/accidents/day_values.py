"""Values of an overlay that are written relative to the day: to its sheet, to figures of the pack, to its runways.

`trip.landing_qnh + 1`, `-0.5 * trip.extra_fuel + 55` and `figure.minimum_vref + 2` mean other numbers on another day, and the
same number on every day is written as a number.

Takes: a pack, the sheet as it is now, the state.  Gives: `DayValues`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import cos, radians, sin
from typing import Annotated, Literal, TypeAlias

from pydantic import AfterValidator, BaseModel, ConfigDict

from rules.judge.judge import compute_figures
from rules.packs.model import Pack
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX, SignalKind, Value

METRES_PER_DEG = 60.0 * 1852.0
"""Length of a degree of latitude on the mock's flat earth, where a minute is a nautical mile."""
_RELATIVE = re.compile(
    r"(?:(-?\d+(?:\.\d+)?) \* )?((?:trip|figure)\.[a-z][a-z0-9_.]*)(?: ([+-]) (\d+(?:\.\d+)?))?"
)


def is_relative(value: object) -> bool:
    """True for a text that names a value of the sheet or a figure."""
    return isinstance(value, str) and (TRIP_PREFIX in value or FIGURE_PREFIX in value)


def _written_well(value: Value) -> Value:
    if is_relative(value) and not _RELATIVE.fullmatch(str(value)):
        raise ValueError(f"{value}: expected such as 'trip.qnh', 'trip.qnh + 1' or '-0.5 * figure.v1 + 2'")
    return value


def _number_of_day(value: Value) -> Value:
    if isinstance(value, str) and not is_relative(value):
        raise ValueError(f"{value}: expected a number, or a value of the sheet, such as 'trip.qnh + 1'")
    return value


DayValue: TypeAlias = Annotated[Value, AfterValidator(_written_well)]
"""A number, a word, or a value relative to the day."""
DayNumber: TypeAlias = Annotated[DayValue, AfterValidator(_number_of_day)]
"""A number, or one relative to the day."""


class RunwayPlace(BaseModel):
    """A place by its distance from the begin of a runway of the sheet, or a distance along and across it.

    Attributes:
        runway: Of the take-off or of the landing.
        along_m: In the direction of the runway.
        right_m: To the right of it.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    runway: Literal["takeoff", "landing"] = "takeoff"
    along_m: float = 0.0
    right_m: float = 0.0


class DayValues:
    """The sheet of one day, with the changes until now."""

    def __init__(self, pack: Pack, trip: Mapping[str, Value]) -> None:
        """Start with the sheet as it is given to the crew."""
        self._pack = pack
        self._trip = dict(trip)

    def change_trip(self, written: Mapping[str, Value], state: Mapping[str, Value]) -> dict[str, Value]:
        """Resolve the new values of a sheet in their order, and remember them.

        A later one sees those before it: after `v2: trip.v2 + 3`, `first_speed: trip.v2` is the new V2, and after
        `landing_flap: 20`, `vref: figure.minimum_vref` is the one for this flap.

        Args:
            written: By name, without `trip.`.
            state: The aeroplane now.

        Returns:
            By name, with `trip.`.
        """
        for name, value in written.items():
            self._trip[TRIP_PREFIX + name] = self.value(TRIP_PREFIX + name, value, state)
        return {TRIP_PREFIX + name: self._trip[TRIP_PREFIX + name] for name in written}

    def value(self, name: str, written: Value, state: Mapping[str, Value]) -> Value:
        """Resolve a value.

        Args:
            name: The signal that gets it; an angle stays within 0 to 360 deg.
            written: A value, perhaps relative.
            state: The aeroplane now, for figures.

        Raises:
            ValueError: There is no such value on the sheet, or the figure is not known.
        """
        found = _RELATIVE.fullmatch(written) if isinstance(written, str) and is_relative(written) else None
        if found is None:
            return written
        factor, of, sign, more = found.groups()
        known = self._trip if of.startswith(TRIP_PREFIX) else self._figures(state)
        if of not in known:
            raise ValueError(f"{name}: {written}: there is no {of} on this day")
        if factor is None and more is None:
            return known[of]
        number = float(factor or 1.0) * float(known[of]) + float(f"{sign or '+'}{more or 0}")
        signal = self._pack.signals.get(name)
        return number % 360.0 if signal is not None and signal.kind is SignalKind.ANGLE else number

    def number(self, name: str, written: Value, state: Mapping[str, Value]) -> float:
        """Resolve a number."""
        return float(self.value(name, written, state))

    def distance_deg(self, place: RunwayPlace) -> tuple[float, float]:
        """How far north and east a distance along and across a runway leads, in degrees of latitude and longitude."""
        heading = radians(self._of_runway("heading", place))
        north_m = place.along_m * cos(heading) - place.right_m * sin(heading)
        east_m = place.along_m * sin(heading) + place.right_m * cos(heading)
        narrower = cos(radians(self._of_runway("latitude", place)))
        return north_m / METRES_PER_DEG, east_m / METRES_PER_DEG / narrower

    def position_deg(self, place: RunwayPlace) -> tuple[float, float]:
        """Latitude and longitude of a place, from the begin of its runway."""
        north, east = self.distance_deg(place)
        return self._of_runway("latitude", place) + north, self._of_runway("longitude", place) + east

    def _of_runway(self, axis: str, place: RunwayPlace) -> float:
        prefix = TRIP_PREFIX + ("landing_" if place.runway == "landing" else "")
        return float(self._trip[f"{prefix}runway_{axis}"])

    def _figures(self, state: Mapping[str, Value]) -> dict[str, Value]:
        found = compute_figures(self._pack, {**state, **self._trip})
        return {figure.signal.name: figure.value for figure in found}
