"""Recorded trajectories of the library `traffic` as columns on a grid of seconds.

Source: traffic 2.13 (MIT licence), the folder `traffic/data/samples`: recordings of ADS-B, and one of a flight data
recorder (in the folder `performance`).  They are read where the library is installed, without importing it, so that none
of its dependencies is needed; nothing of them is copied.

Takes: the name of a sample.  Gives: `Trajectory`; a skipped test where the library is missing.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from tests.requirements import SET_UP, skip_or_fail

Column: TypeAlias = NDArray[np.float64]

LIBRARY = "traffic"
FOLDERS = ("performance", "featured")
"""Folders of samples of single aeroplanes; most of `featured` drew a picture, or flew low for a farewell."""
HELD_S = 65.0
"""Records this far apart are joined by a straight line, since a simulator sends each second; longer gaps stay open.

Over the oceans a record comes each minute, 61 to 63 s after the last one.
"""
SIGNALS = {
    "altitude": "flight.pressure_altitude",
    "groundspeed": "flight.ground_speed",
    "vertical_rate": "flight.vertical_speed",
    "CAS": "flight.airspeed",
    "pitch": "flight.pitch",
    "roll": "flight.bank",
}
"""Our signals of the library's columns.  ADS-B sends the pressure altitude (ICAO Annex 10, Volume IV, from memory)."""


@dataclass(frozen=True, slots=True)
class Trajectory:
    """Times in s from 0, and columns in the units of `SIGNALS` (ft, kt, ft/min, deg); NaN where nothing was recorded."""

    name: str
    times_s: Column
    columns: Mapping[str, Column]

    def part(self, first_s: float, last_s: float) -> Trajectory:
        """Part between two times."""
        chosen = (self.times_s >= first_s) & (self.times_s <= last_s)
        return Trajectory(
            self.name, self.times_s[chosen], {name: column[chosen] for name, column in self.columns.items()}
        )

    def only(self, names: Iterable[str]) -> Trajectory:
        """Keep these columns alone."""
        return Trajectory(self.name, self.times_s, {name: self.columns[name] for name in names})


def _samples_folder() -> Path:
    """Folder of the samples; a skipped test where the library is missing."""
    try:
        installed = distribution(LIBRARY)
    except PackageNotFoundError:
        skip_or_fail(f"the library {LIBRARY} is not installed: {SET_UP}")
    return Path(str(installed.locate_file(f"{LIBRARY}/data/samples")))


def sample_names() -> list[str]:
    """Names of the samples of single aeroplanes: the folder, and the number by the order of the files' names."""
    return [f"{folder} {number}" for folder in FOLDERS for number in range(1, len(_files(folder)) + 1)]


def _files(folder: str) -> list[Path]:
    """Files of a folder in the order of their names, which name types and operators."""
    return sorted((_samples_folder() / folder).glob("*.json.gz"))


def read(name: str) -> Trajectory:
    """Read a sample by its folder and number, such as `featured 8`."""
    folder, number = name.split()
    with gzip.open(_files(folder)[int(number) - 1], "rt", encoding="utf-8") as file:
        records = _by_column(json.load(file))
    times_s = np.array([_seconds(each) for each in records["timestamp"]])
    order = np.argsort(times_s, kind="stable")
    order = order[np.concatenate([[True], np.diff(times_s[order]) > 0])]
    times_s = times_s[order] - times_s[order[0]]
    given = {name: _numbers(records[name])[order] for name in SIGNALS if name in records}
    grid = np.arange(0.0, times_s[-1] + 1.0)
    return Trajectory(name, grid, {name: _on_grid(grid, times_s, column) for name, column in given.items()})


def _by_column(data: Any) -> dict[str, list[Any]]:  # noqa: ANN401 - JSON of either form that pandas writes
    """Give lists by column: the files hold rows, or columns."""
    if isinstance(data, list):
        return {name: [row.get(name) for row in data] for name in {key for row in data for key in row}}
    return {
        name: list(column.values()) if isinstance(column, dict) else column for name, column in data.items()
    }


def _seconds(stamp: float | str) -> float:
    """Give a time in s: milliseconds, or a date."""
    return stamp / 1000 if isinstance(stamp, int | float) else datetime.fromisoformat(stamp).timestamp()


def _numbers(values: Iterable[float | None]) -> Column:
    return np.array([np.nan if value is None else float(value) for value in values])


def _on_grid(grid: Column, times_s: Column, column: Column) -> Column:
    """Join neighbouring records by a line; NaN before the first, after the last, and in long gaps."""
    known = ~np.isnan(column)
    if not known.any():
        return np.full(len(grid), np.nan)
    at_s, values = times_s[known], column[known]
    after = np.searchsorted(at_s, grid)
    inside = (after > 0) & (after < len(at_s))
    gap_s = np.where(inside, at_s[np.minimum(after, len(at_s) - 1)] - at_s[np.maximum(after - 1, 0)], np.inf)
    joined = np.interp(grid, at_s, values)
    return np.where((gap_s <= HELD_S) | np.isin(grid, at_s), joined, np.nan)
