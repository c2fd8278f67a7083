"""How a link stands, in one word for programs and one sentence for people.

Waiting, silent, unreadable and broken are four things that call for four different remedies.

Takes: what the supervisor, the link and the receiver know.  Gives: `Reception`, and lines when it changes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from adapters.links.base import LinkStatus
from adapters.reception_health import SILENCE_LIMIT_S, ReceptionHealth
from bridge.runtime.supervisor import SupervisedLink


class LinkState(StrEnum):
    """Where reception stands."""

    OPENING = "opening"
    BROKEN = "broken"  # the link could not be opened, or was lost; it is tried again
    WAITING = "waiting"  # open, nothing has arrived yet
    RECEIVING = "receiving"
    SILENT = "silent"  # something had arrived, nothing does any more
    UNREADABLE = "unreadable"  # datagrams arrive, but none says anything new


@dataclass(frozen=True, slots=True)
class LinkReport:
    """One link as it is now; `attempt` counts failures, so that each is told."""

    name: str
    state: LinkState
    text: str
    attempt: int = 0

    @property
    def healthy(self) -> bool:
        """Whether nobody need do anything about it."""
        return self.state in (LinkState.RECEIVING, LinkState.WAITING, LinkState.OPENING)


def link_report(
    supervised: SupervisedLink, health: ReceptionHealth, address: str, now_s: float
) -> LinkReport:
    """How the link stands.

    Args:
        supervised: what the supervisor knows.
        health: what the receiver counted.
        address: the name of a link that was never open.
        now_s: the monotonic clock.
    """
    link = supervised.link
    name = link.name if link is not None else address
    if supervised.failure:
        return LinkReport(name, LinkState.BROKEN, supervised.describe(now_s), supervised.failures)
    if link is None:
        return LinkReport(name, LinkState.OPENING, "opening")
    if link.status(now_s) is LinkStatus.RETRYING:
        return LinkReport(name, LinkState.BROKEN, link.status_text(now_s).removeprefix(f"{name}: "))
    if health.last_recv_s is None:
        return LinkReport(name, LinkState.WAITING, link.status_text(now_s).removeprefix(f"{name}: "))
    return LinkReport(name, _state_by_age(health, health.last_recv_s, now_s), health.status_text(now_s))


def _state_by_age(health: ReceptionHealth, last_recv_s: float, now_s: float) -> LinkState:
    """By how long ago something arrived, and something that could be read."""
    if now_s - last_recv_s >= SILENCE_LIMIT_S:
        return LinkState.SILENT
    if health.last_frame_s is None or now_s - health.last_frame_s >= SILENCE_LIMIT_S:
        return LinkState.UNREADABLE
    return LinkState.RECEIVING


class LinkChangeLog:
    """Says one line each time that reception becomes something else."""

    def __init__(self, emit: Callable[[str], None]) -> None:
        """Begin with a link that is being opened.

        Args:
            emit: takes each line.
        """
        self._emit = emit
        self._last = LinkReport("", LinkState.OPENING, "")

    def update(self, now: LinkReport) -> None:
        """Look at it as it is now."""
        last = self._last
        if (now.state, now.attempt) == (last.state, last.attempt):
            return
        self._last = now
        self._emit(f"{now.name}: {_change_text(now, last.state)}")


def _change_text(now: LinkReport, before: LinkState) -> str:
    """What became of it, and what that means."""
    match now.state:
        case LinkState.SILENT:
            return f"{now.text}; what it showed is unknown until it sends again"
        case LinkState.RECEIVING if before not in (LinkState.OPENING, LinkState.WAITING):
            return f"receiving again{now.text.removeprefix('receiving')}"
        case _:
            return now.text
