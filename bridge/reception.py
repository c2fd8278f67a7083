"""How a link stands, in one word for programs and one sentence for people.

Waiting, silent, unreadable and broken are four things that call for four different remedies.

Takes: what the supervisor, the link and the receiver know.  Gives: `Reception`, and lines when it changes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from adapters.health import SILENT_S, Health
from adapters.links.base import Status
from bridge.supervise import Upkeep


class Standing(StrEnum):
    """Where reception stands."""

    OPENING = "opening"
    BROKEN = "broken"  # the link could not be opened, or was lost; it is tried again
    WAITING = "waiting"  # open, nothing has arrived yet
    RECEIVING = "receiving"
    SILENT = "silent"  # something had arrived, nothing does any more
    UNREADABLE = "unreadable"  # datagrams arrive, but none says anything new


@dataclass(frozen=True, slots=True)
class Reception:
    """One link as it is now; `attempt` counts failures, so that each is told."""

    name: str
    standing: Standing
    words: str
    attempt: int = 0

    @property
    def healthy(self) -> bool:
        """Whether nobody need do anything about it."""
        return self.standing in (Standing.RECEIVING, Standing.WAITING, Standing.OPENING)


def reception(upkeep: Upkeep, health: Health, address: str, now_s: float) -> Reception:
    """How the link stands.

    Args:
        upkeep: what the supervisor knows.
        health: what the receiver counted.
        address: the name of a link that was never open.
        now_s: the monotonic clock.
    """
    link = upkeep.link
    name = link.name if link is not None else address
    if upkeep.failure:
        return Reception(name, Standing.BROKEN, upkeep.words(now_s), upkeep.failures)
    if link is None:
        return Reception(name, Standing.OPENING, "opening")
    if link.status(now_s) is Status.RETRYING:
        return Reception(name, Standing.BROKEN, link.words(now_s).removeprefix(f"{name}: "))
    if health.last_recv_s is None:
        return Reception(name, Standing.WAITING, link.words(now_s).removeprefix(f"{name}: "))
    return Reception(name, _standing(health, health.last_recv_s, now_s), health.words(now_s))


def _standing(health: Health, last_recv_s: float, now_s: float) -> Standing:
    """By how long ago something arrived, and something that could be read."""
    if now_s - last_recv_s >= SILENT_S:
        return Standing.SILENT
    if health.last_frame_s is None or now_s - health.last_frame_s >= SILENT_S:
        return Standing.UNREADABLE
    return Standing.RECEIVING


class Changes:
    """Says one line each time that reception becomes something else."""

    def __init__(self, say: Callable[[str], None]) -> None:
        """Begin with a link that is being opened.

        Args:
            say: takes each line.
        """
        self._say = say
        self._last = Reception("", Standing.OPENING, "")

    def look(self, now: Reception) -> None:
        """Look at it as it is now."""
        last = self._last
        if (now.standing, now.attempt) == (last.standing, last.attempt):
            return
        self._last = now
        self._say(f"{now.name}: {_sentence(now, last.standing)}")


def _sentence(now: Reception, before: Standing) -> str:
    """What became of it, and what that means."""
    match now.standing:
        case Standing.SILENT:
            return f"{now.words}; what it showed is unknown until it sends again"
        case Standing.RECEIVING if before not in (Standing.OPENING, Standing.WAITING):
            return f"receiving again{now.words.removeprefix('receiving')}"
        case _:
            return now.words
