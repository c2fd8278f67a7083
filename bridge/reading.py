"""A checklist as it is read aloud: which line is at, and when the next one is.

The state answers: a line that the aeroplane shows to be so is passed by itself, after the time that it takes to
read it; where no signal can show it the crew's touch does; one that is not so stays until it is, or until
the crew leaves it open.

Takes: a checklist, how its items stand, and the clock.  Gives: `Reading`.
"""

from __future__ import annotations

from collections.abc import Callable

from rules.judge.entries import Life
from rules.packs.model import Checklist, Line

DWELL_S = 2.5
"""Challenge and answer take about so long to say; common practice, no source."""
PASSED = frozenset({Life.MET, Life.CONFIRMED, Life.EXCUSED})


class Reading:
    """One reading of one checklist."""

    def __init__(self, checklist: Checklist, life: Callable[[str], Life], now_s: float) -> None:
        """At its first line.

        Args:
            checklist: what is read.
            life: how an item stands, by its id.
            now_s: the monotonic clock.
        """
        self.checklist = checklist
        self.at = 0
        self.left: list[int] = []
        self._life = life
        self._since_s = now_s

    @property
    def line(self) -> Line | None:
        """The line that is at, None at the end."""
        return self.checklist.lines[self.at] if self.at < len(self.checklist.lines) else None

    @property
    def complete(self) -> bool:
        """Whether it was read to its end and nothing was left open, or is so no more."""
        return self.line is None and not self.still_open()

    def still_open(self) -> list[Line]:
        """The lines that were left open and are so still."""
        lines = (self.checklist.lines[at] for at in self.left)
        return [line for line in lines if self._life(line.item) not in PASSED]

    def look(self, now_s: float) -> bool:
        """Go on where the present line is so and was at for long enough; whether it went on."""
        line = self.line
        if line is None or now_s - self._since_s < DWELL_S or self._life(line.item) not in PASSED:
            return False
        self._go_on(now_s)
        return True

    def leave_open(self, now_s: float) -> None:
        """Go on although the present line is not so; it is counted at the end."""
        if self.line is not None:
            self.left.append(self.at)
            self._go_on(now_s)

    def _go_on(self, now_s: float) -> None:
        self.at += 1
        self._since_s = now_s
