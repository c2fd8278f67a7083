"""One line at each change of the state of a link.

Takes: reports of the link.  Gives: lines.
"""

from __future__ import annotations

from collections.abc import Callable

from adapters.link_report import LinkReport, LinkState


class LinkChangeLog:
    """Writes a line at each change of the link's state."""

    def __init__(self, emit: Callable[[str], None]) -> None:
        """Start with a link that is being opened.

        Args:
            emit: called with each line.
        """
        self._emit = emit
        self._last = LinkReport("", LinkState.OPENING, "")

    def update(self, now: LinkReport) -> None:
        """Compare the present state with the last one."""
        last = self._last
        if (now.state, now.attempt) == (last.state, last.attempt):
            return
        self._last = now
        self._emit(f"{now.name}: {_change_text(now, last.state)}")


def _change_text(now: LinkReport, before: LinkState) -> str:
    """Describe the change and its consequence."""
    match now.state:
        case LinkState.SILENT:
            return f"{now.text}; its values are unknown until data arrive again"
        case LinkState.RECEIVING if before is LinkState.BEHIND:
            return f"caught up: {now.text}"
        case LinkState.RECEIVING if before not in (LinkState.OPENING, LinkState.WAITING):
            return f"data arrive again: {now.text}"
        case _:
            return now.text
