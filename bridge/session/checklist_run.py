"""Reading of one checklist: the present line, and when the next one follows.

The items of a line answer the challenge: once all are satisfied the next line follows, after the time that reading
takes. An item that no signal shows must be confirmed. A line stays until its items are satisfied, or until the crew
leaves it open. The checklist is complete only while every line is met: one that was met when it was read, and was lost
since, is open again.

Takes: a checklist, the status of its items, and the clock.  Gives: `ChecklistRun`.
"""

from __future__ import annotations

from collections.abc import Callable

from rules.packs.model import Checklist, ChecklistLine

DWELL_S = 2.5
"""Challenge and answer take about so long to say; common practice, no source."""


class ChecklistRun:
    """A checklist that is being read, with its present line."""

    def __init__(self, checklist: Checklist, item_satisfied: Callable[[str], bool], now_s: float) -> None:
        """Start at the first line.

        Args:
            checklist: to read.
            item_satisfied: returns True for the id of an item that needs no more action.
            now_s: the monotonic clock.
        """
        self.checklist = checklist
        self.line_index = 0
        self._item_satisfied = item_satisfied
        self._since_s = now_s

    @property
    def line(self) -> ChecklistLine | None:
        """Current line; None when finished."""
        return self.checklist.lines[self.line_index] if self.line_index < len(self.checklist.lines) else None

    @property
    def complete(self) -> bool:
        """True when all lines were read and every line is met."""
        return self.line is None and not self.open_lines()

    def open_lines(self) -> list[ChecklistLine]:
        """Return the lines already read that are not met: left open, or lost since."""
        return [line for line in self.checklist.lines[: self.line_index] if not self._is_met(line)]

    def advance(self, now_s: float) -> bool:
        """Go to the next line if the present one is met and was shown long enough.

        Returns:
            True if the line changed.
        """
        line = self.line
        if line is None or now_s - self._since_s < DWELL_S or not self._is_met(line):
            return False
        self._next_line(now_s)
        return True

    def leave_open(self, now_s: float) -> None:
        """Go to the next line although the present one is open; it is listed at the end."""
        if self.line is not None:
            self._next_line(now_s)

    def _is_met(self, line: ChecklistLine) -> bool:
        return all(map(self._item_satisfied, line.items))

    def _next_line(self, now_s: float) -> None:
        self.line_index += 1
        self._since_s = now_s
