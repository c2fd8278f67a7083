"""Decides which keyframes of a recording are used when it is replayed.

Takes: losses and keyframes in their order.  Gives: `GapFilter`.
"""

from __future__ import annotations

from bridge.recording.file_format import FramesLost


class GapFilter:
    """Decides which keyframes are used: the first one after lost frames or missing earlier parts.

    messages   frame 1   keyframe   frame 2   lost 3   keyframe   frame 6   keyframe
    used       frame 1              frame 2            as frame   frame 6
    """

    def __init__(self, *, frames_missing: bool = False) -> None:
        """Start.

        Args:
            frames_missing: True if earlier parts are missing.
        """
        self._frames_missing = frames_missing
        self._missing_from_s: float | None = None
        self._frames = 0

    def add_loss(self, lost: FramesLost) -> None:
        """Note lost messages; lost ticks alone are no gap."""
        if lost.frames:
            self._frames_missing, self._frames = True, self._frames + lost.frames
            if self._missing_from_s is None:
                self._missing_from_s = lost.missing_from_s

    def fill(self) -> tuple[bool, float | None, int | None]:
        """Close the gap, if there is one, with the keyframe that was read now; it has the values of the last lost frame.

        Returns:
            True if the keyframe is used; the simulator's time from which on frames before it are missing; how many.
        """
        filled = self._frames_missing, self._missing_from_s, self._frames - 1 if self._frames else None
        self._frames_missing, self._missing_from_s, self._frames = False, None, 0
        return filled
