"""A checklist as it is read aloud: which line is at, and when the next one is.

The state answers: a line that a signal shows to be so is passed by itself, after the time that it takes to
read it; where no signal can show it the crew's touch does; one that is not so stays until it is, or until
the crew leaves it open.

Takes: a checklist, how its items stand, and the clock.  Gives: `Reading`.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.session.gates_ahead import SATISFIED
from rules.judge.events import ItemStatus
from rules.packs.model import Checklist, ChecklistLine

DWELL_S = 2.5
"""Challenge and answer take about so long to say; common practice, no source."""


class ChecklistRun:
    """One reading of one checklist."""

    def __init__(self, checklist: Checklist, item_life: Callable[[str], ItemStatus], now_s: float) -> None:
        """At its first line.

        Args:
            checklist: what is read.
            item_life: how an item stands, by its id.
            now_s: the monotonic clock.
        """
        self.checklist = checklist
        self.line_index = 0
        self.left_open: list[int] = []
        self._item_life = item_life
        self._since_s = now_s

    @property
    def line(self) -> ChecklistLine | None:
        """The line that is at, None at the end."""
        return self.checklist.lines[self.line_index] if self.line_index < len(self.checklist.lines) else None

    @property
    def complete(self) -> bool:
        """Whether it was read to its end and nothing was left open, or is so no more."""
        return self.line is None and not self.open_lines()

    def open_lines(self) -> list[ChecklistLine]:
        """The lines that were left open and are so still."""
        lines = (self.checklist.lines[at] for at in self.left_open)
        return [line for line in lines if self._item_life(line.item) not in SATISFIED]

    def advance(self, now_s: float) -> bool:
        """Go on where the present line is so and was at for long enough; whether it went on."""
        line = self.line
        if line is None or now_s - self._since_s < DWELL_S or self._item_life(line.item) not in SATISFIED:
            return False
        self._next_line(now_s)
        return True

    def leave_open(self, now_s: float) -> None:
        """Go on although the present line is not so; it is counted at the end."""
        if self.line is not None:
            self.left_open.append(self.line_index)
            self._next_line(now_s)

    def _next_line(self, now_s: float) -> None:
        self.line_index += 1
        self._since_s = now_s
