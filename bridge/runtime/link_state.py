"""State of a link: one word for programs, one sentence for people.

Waiting, silent, unreadable and broken are four states with four different remedies.

Takes: the state of supervisor, link and receiver.  Gives: `LinkReport`, and a line at each change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from adapters.links.base import LinkStatus
from adapters.reception_health import SILENCE_LIMIT_S, ReceptionHealth
from bridge.runtime.supervisor import SupervisedLink


class LinkState(StrEnum):
    """State of reception."""

    OPENING = "opening"
    BROKEN = "broken"  # the link could not be opened, or was lost; it is opened again
    WAITING = "waiting"  # open, nothing has arrived yet
    RECEIVING = "receiving"
    SILENT = "silent"  # data arrived before, none arrives now
    UNREADABLE = "unreadable"  # datagrams arrive, but none gives a new frame


@dataclass(frozen=True, slots=True)
class LinkReport:
    """Present state of one link; `attempt` counts failures, so that each is reported."""

    name: str
    state: LinkState
    text: str
    attempt: int = 0

    @property
    def healthy(self) -> bool:
        """True if no action is needed."""
        return self.state in (LinkState.RECEIVING, LinkState.WAITING, LinkState.OPENING)


def link_report(
    supervised: SupervisedLink, health: ReceptionHealth, address: str, now_s: float
) -> LinkReport:
    """Report the present state of a link.

    Args:
        supervised: state of the supervisor.
        health: counters of the receiver.
        address: name of a link that was never open.
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
    """Choose the state by the age of the last datagram and the last frame."""
    if now_s - last_recv_s >= SILENCE_LIMIT_S:
        return LinkState.SILENT
    if health.last_frame_s is None or now_s - health.last_frame_s >= SILENCE_LIMIT_S:
        return LinkState.UNREADABLE
    return LinkState.RECEIVING


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
        case LinkState.RECEIVING if before not in (LinkState.OPENING, LinkState.WAITING):
            return f"receiving again{now.text.removeprefix('receiving')}"
        case _:
            return now.text
