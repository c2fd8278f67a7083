"""Input log: frames, stale checks and requests in order, flattened for conversion to columns.

Takes: the inputs, one after the other.  Gives: `InputLog`, and `NotColumnar` for a log that columns cannot represent.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import nan

import numpy as np

from rules.signals.model import Frame, Quality, Value, is_gap


@dataclass(frozen=True, slots=True)
class StaleCheck:
    """Clock reading at which signals are checked for staleness without a new frame."""

    recv_s: float


class NotColumnar(Exception):  # noqa: N818 - a property of the log, not an error of ours
    """The log cannot be converted to columns; it must be folded frame by frame."""


class InputLog:
    """All inputs of a recording: frame i has `counts[i]` of the names and values, which follow each other.

    `floats` contains the values that are floats; `others` the other values by their position: words, whole numbers,
    and None where the sample was not fresh.  `name_set_ids` contains the index in `name_sets` of each frame's
    `carried`; `events_before` the stale checks and requests before a frame, by its number; `gaps` the starts of the gaps in
    the data that end with a frame, by its number.
    """

    def __init__(self) -> None:
        """Start an empty log."""
        self.sim_s: list[float] = []
        self.recv_s: list[float] = []
        self.epochs: list[int] = []
        self.counts: list[int] = []
        self.names: list[str] = []
        self.floats = array("d")
        self.others: dict[int, Value | None] = {}
        self.calls: dict[int, tuple[str, ...]] = {}
        self.events_before: dict[int, list[object]] = {}
        self.gaps: dict[int, float] = {}
        self.gap_records: dict[int, int] = {}
        self.name_set_ids: list[int] = []
        self.name_sets: list[tuple[str, ...]] = []
        self._id_of_name_set: dict[tuple[str, ...], int] = {}
        self._last_name_set: tuple[Sequence[str], int] = ((), -1)

    def __len__(self) -> int:
        """Number of frames."""
        return len(self.sim_s)

    def append_frame(self, frame: Frame) -> None:
        """Append a frame."""
        values = [s.value if s.quality is Quality.FRESH else None for s in frame.changes]
        self._append_values(values)
        names = (sample.name for sample in frame.changes)
        self._append_gap(frame.missing_from_s, frame.sim_s, frame.missing_records)
        self._append_header(frame.sim_s, frame.recv_s, frame.epoch, frame.carried, names, frame.calls)

    def append(
        self,
        sim_s: float,
        recv_s: float,
        epoch: int,
        carried: Sequence[str],
        values: Mapping[str, float | str | None],
        calls: Sequence[str] = (),
        missing_from_s: float | None = None,
        missing_records: int | None = None,
    ) -> None:
        """Append a frame, given in parts.

        Args:
            sim_s: The simulator's clock.
            recv_s: The monotonic clock.
            epoch: Of the simulator's clock.
            carried: Every signal in the frame, changed or not.
            values: Changes by name: floats (no whole numbers), words, None for a sample that is not fresh.
            calls: The calls that the frame enters.
            missing_from_s: The simulator's time from which on data before the frame are missing; None for no loss.
            missing_records: How many records are missing; None where that is not known.
        """
        self._append_gap(missing_from_s, sim_s, missing_records)
        before = len(self.floats)
        try:
            self.floats.extend(values.values())  # type: ignore[arg-type]  # a word raises
        except TypeError:
            del self.floats[before:]
            self._append_values(values.values())
        self._append_header(sim_s, recv_s, epoch, carried, values, calls)

    def _append_gap(self, missing_from_s: float | None, sim_s: float, records: int | None) -> None:
        """Note a gap before the frame that is appended now, if it is long enough to count."""
        if missing_from_s is not None and is_gap(missing_from_s, sim_s):
            self.gaps[len(self.sim_s)] = missing_from_s
            if records is not None:
                self.gap_records[len(self.sim_s)] = records

    def _append_values(self, values: Iterable[Value | None]) -> None:
        """Append values; those that are not floats go to `others`."""
        for value in values:
            plain = type(value) is float
            if not plain:
                self.others[len(self.floats)] = value
            self.floats.append(float(value) if plain and value is not None else nan)

    def _append_header(
        self,
        sim_s: float,
        recv_s: float,
        epoch: int,
        carried: Sequence[str],
        names: Iterable[str],
        calls: Sequence[str],
    ) -> None:
        """Append the other fields of a frame."""
        if calls:
            self.calls[len(self.sim_s)] = tuple(calls)
        before = len(self.names)
        self.names.extend(names)
        self.counts.append(len(self.names) - before)
        self.sim_s.append(sim_s)
        self.recv_s.append(recv_s)
        self.epochs.append(epoch)
        self.name_set_ids.append(self._name_set_id(carried))

    def append_stale_check(self, recv_s: float) -> None:
        """Append a stale check."""
        self.events_before.setdefault(len(self.sim_s), []).append(StaleCheck(recv_s))

    def append_request(self, request: object) -> None:
        """Append a request."""
        self.events_before.setdefault(len(self.sim_s), []).append(request)

    def initial_requests(self) -> list[object]:
        """Give the requests before the first frame."""
        return [event for event in self.events_before.get(0, ()) if not isinstance(event, StaleCheck)]

    def epoch_ranges(self) -> list[tuple[int, int]]:
        """Give the first frame of each epoch, and the frame after its last."""
        if not self.epochs:
            return []
        cuts = np.flatnonzero(np.diff(np.array(self.epochs, np.int64))) + 1
        return list(pairwise([0, *cuts.tolist(), len(self.epochs)]))

    def _name_set_id(self, carried: Sequence[str]) -> int:
        """Give the index of a set of names; a new set gets a new index."""
        last, number = self._last_name_set
        if last is not carried:
            names = tuple(carried)
            number = self._id_of_name_set.setdefault(names, len(self._id_of_name_set))
            if number == len(self.name_sets):
                self.name_sets.append(names)
            self._last_name_set = (carried, number)
        return number
