"""Intervals between the notices of one error, and how many were given.

Takes: a finding, and the times of its notices.  Gives: the time of the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from rules.judge.events import Finding
from rules.packs.model import FindingKind, Level

REPEAT_INTERVALS_S = (30.0, 60.0, 120.0)
"""Intervals between the notices of one error, in seconds of simulator time; the last one is used again and again."""

EVENT_INTERVALS_S = (30.0, 300.0)
"""The same for an event of the aeroplane that comes again: no crew can put it right, and its drill takes minutes."""

# One error, from its first notice on (N: a notice, -: the interval in which no further one is given):
#
#     time s      0         30                  90                                      210
#     open        N---------N-------------------N---------------------------------------N---
#     reopened    N--c-o----N     closed at c, open again at o: the notice waits for the end of the interval
#     undone      N--c-u    N at u at once: the item was met and lost again, which is new to the crew
#     re-cued     N--x      N     cue lost at x: the timer ends without a notice; the next cue gives it
#     reminded    N---------N----------------r--------------N----    r: 30 s at least from a reminder to the next notice
#
# The state belongs to the error (`FindingKey`), not to the finding, so that closing and reopening cannot shorten it.


@dataclass(slots=True)
class RepeatState:
    """Progress of the repeated notices about one error; `reminded_s` is when a reminder named it."""

    issued_s: float
    interval_index: int = 0
    finding: int = 0
    repeats: int = 0
    reminded_s: float = -inf
    intervals_s: tuple[float, ...] = REPEAT_INTERVALS_S

    @property
    def was_reminded(self) -> bool:
        """True if the reminder of a gate has named it."""
        return self.reminded_s > -inf

    @property
    def next_s(self) -> float:
        """Time of the next notice."""
        interval_s = self.intervals_s[min(self.interval_index, len(self.intervals_s) - 1)]
        return max(self.issued_s + interval_s, self.reminded_s + REPEAT_INTERVALS_S[0])

    def told_within_first_interval(self, now_s: float) -> bool:
        """True if a notice has named it within the first interval."""
        return now_s - max(self.issued_s, self.reminded_s) < REPEAT_INTERVALS_S[0]


def intervals_of(finding: Finding) -> tuple[float, ...]:
    """Intervals between the notices of a finding."""
    return EVENT_INTERVALS_S if finding.kind is FindingKind.AEROPLANE_EVENT else REPEAT_INTERVALS_S


def most_notices(finding: Finding, *, repeats: bool) -> float:
    """Number of the notices of one finding, apart from the reminders of gates.

    A doubt, and a failed system where no immediate action is needed, have one; another event of the aeroplane has two.

    Args:
        finding: The finding.
        repeats: False where its rule has one notice.
    """
    if finding.is_doubt or not repeats:
        return 1
    if finding.kind is not FindingKind.AEROPLANE_EVENT:
        return inf
    return 2 if finding.level is Level.WARNING else 1
