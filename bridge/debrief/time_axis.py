"""The time axis of a session, on which time never goes back.

Where the simulator's clock jumps back, the axis continues without a step:

    clock   0  1  2  3 | 1  2  3
    axis    0  1  2  3 | 3  4  5

Takes: a loaded input log.  Gives: `TimeAxis`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bridge.rejudge.load_input_log import LoadedInputLog

_MAX_OFFSET_S = 3600.0
"""A time further than this from its frame belongs to the clock before a jump."""


class TimeAxis:
    """The times of a session's frames on its axis.

    Attributes:
        times_s: the time of each frame.
        clock_resets: the number of times the simulator's clock jumped back.
    """

    def __init__(self, loaded: LoadedInputLog) -> None:
        """Calculate the time of each frame."""
        self._sim_s = np.array(loaded.input_log.sim_s)
        self._utc = loaded.utc
        epochs = np.array(loaded.input_log.epochs)
        steps = np.diff(self._sim_s)
        back = np.diff(epochs) != 0 if len(epochs) else np.empty(0, bool)
        self.clock_resets = int(back.sum())
        # A small step back within one epoch (frames of several senders) also becomes a step of 0.
        steps = np.where(back | (steps < 0), 0.0, steps)
        first = self._sim_s[0] if len(self._sim_s) else 0.0
        self.times_s: NDArray[np.float64] = (
            first + np.concatenate(([0.0], np.cumsum(steps)))[: len(self._sim_s)]
        )

    @property
    def from_s(self) -> float:
        """The time of the first frame, 0 if there is no frame."""
        return float(self.times_s[0]) if len(self.times_s) else 0.0

    @property
    def to_s(self) -> float:
        """The time of the last frame, 0 if there is no frame."""
        return float(self.times_s[-1]) if len(self.times_s) else 0.0

    def at_s(self, frame_count: int, sim_s: float) -> float:
        """Convert a time of the simulator's clock.

        Args:
            frame_count: the number of frames before it.
            sim_s: the time by the simulator's clock.
        """
        if not len(self.times_s):
            return sim_s
        frame = min(max(frame_count - 1, 0), len(self.times_s) - 1)
        offset_s = sim_s - float(self._sim_s[frame])
        time_s = float(self.times_s[frame]) + (offset_s if abs(offset_s) < _MAX_OFFSET_S else 0.0)
        return min(max(time_s, self.from_s), self.to_s)

    def utc(self, frame_count: int, default: float) -> float:
        """The wall clock in seconds since 1970; `default` before the first frame.

        Args:
            frame_count: the number of frames before that moment.
            default: returned if that is 0.
        """
        return self._utc[min(frame_count, len(self._utc)) - 1] if frame_count and self._utc else default
