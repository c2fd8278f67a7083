"""State of a link: one word for programs, one sentence for people.

Waiting, silent, unreadable and broken are four states with four different remedies.

Takes: the counters of a receiver.  Gives: `LinkState`, `LinkReport`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from adapters.reception_health import SILENCE_LIMIT_S, ReceptionHealth


class LinkState(StrEnum):
    """State of reception."""

    OPENING = "opening"
    BROKEN = "broken"  # the link could not be opened, or was lost; it is opened again
    WAITING = "waiting"  # open, nothing has arrived yet
    RECEIVING = "receiving"
    BEHIND = "behind"  # data arrive faster than they are judged, and wait
    SILENT = "silent"  # data arrived before, none arrives now
    UNREADABLE = "unreadable"  # datagrams arrive, but none gives a new frame


@dataclass(frozen=True, slots=True)
class LinkReport:
    """Present state of one link.

    Attributes:
        name: name of the link, or its address before it was open.
        state: the state.
        text: the state in one sentence, with what is wrong although data arrive.
        attempt: failures to open it so far, so that each is reported.
        brief: the same for a narrow place; '' if `text` is brief enough.
    """

    name: str
    state: LinkState
    text: str
    attempt: int = 0
    brief: str = field(default="", compare=False)

    @property
    def brief_text(self) -> str:
        """The state in a few words."""
        return self.brief or self.text

    @property
    def healthy(self) -> bool:
        """True if no action is needed."""
        return self.state in (LinkState.RECEIVING, LinkState.WAITING, LinkState.OPENING)


def state_by_age(health: ReceptionHealth, last_recv_s: float, now_s: float) -> LinkState:
    """Choose the state by the age of the last datagram and the last frame."""
    if now_s - last_recv_s >= SILENCE_LIMIT_S:
        return LinkState.SILENT
    if health.last_frame_s is None or now_s - health.last_frame_s >= SILENCE_LIMIT_S:
        return LinkState.UNREADABLE
    return LinkState.RECEIVING
