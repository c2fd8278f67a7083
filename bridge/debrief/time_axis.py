"""The session's own axis of time, on which nothing happens before what came before it.

The simulator's clock may jump back; then the axis goes on from where it was.

Takes: a recording on a tape.  Gives: `Axis`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bridge.rejudge.load_input_log import LoadedInputLog

_MAX_OFFSET_S = 3600.0
"""Times further from their frame than this are not of its clock."""


class TimeAxis:
    """Places on the tape as times.

    Attributes:
        times_s: of each frame.
        jumps: how often the simulator's clock jumped back.
    """

    def __init__(self, taped: LoadedInputLog) -> None:
        """Lay it out."""
        self._sim_s = np.array(taped.input_log.sim_s)
        self._utc = taped.utc
        epochs = np.array(taped.input_log.epochs)
        steps = np.diff(self._sim_s)
        back = np.diff(epochs) != 0 if len(epochs) else np.empty(0, bool)
        self.clock_resets = int(back.sum())
        steps = np.where(back | (steps < 0), 0.0, steps)
        first = self._sim_s[0] if len(self._sim_s) else 0.0
        self.times_s: NDArray[np.float64] = (
            first + np.concatenate(([0.0], np.cumsum(steps)))[: len(self._sim_s)]
        )

    @property
    def from_s(self) -> float:
        """Where it begins."""
        return float(self.times_s[0]) if len(self.times_s) else 0.0

    @property
    def to_s(self) -> float:
        """Where it ends."""
        return float(self.times_s[-1]) if len(self.times_s) else 0.0

    def at_s(self, frame_count: int, sim_s: float) -> float:
        """When something was.

        Args:
            frame_count: how many frames were on the tape by then.
            sim_s: by the simulator's clock.
        """
        if not len(self.times_s):
            return sim_s
        frame = min(max(frame_count - 1, 0), len(self.times_s) - 1)
        beside = sim_s - float(self._sim_s[frame])
        time_s = float(self.times_s[frame]) + (beside if abs(beside) < _MAX_OFFSET_S else 0.0)
        return min(max(time_s, self.from_s), self.to_s)

    def utc(self, frame_count: int, default: float) -> float:
        """The wall's clock, in seconds since 1970; `otherwise` where no frame had come."""
        return self._utc[min(frame_count, len(self._utc)) - 1] if frame_count and self._utc else default
