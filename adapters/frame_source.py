"""Source of frames: keeps a link open, opens it again after a failure, and decodes what arrives.

    link -> datagram -> receiver -> frames -> deliver

This is the boundary of the wire: a source gives frames and the health of reception, and nothing else leaves it.

Takes: a receiver, and a function that makes a link.  Gives: frames, `ReceptionHealth`, and a `LinkReport`.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable

import structlog

from adapters.back_off import BackOff
from adapters.link_report import LinkReport, LinkState, state_by_age
from adapters.links.base import Clock, Datagram, Link, LinkStatus
from adapters.mapping.map_plan import MapPlan
from adapters.receiver import Receiver
from adapters.reception_health import ReceptionHealth
from rules.faults import LinkError
from rules.signals.model import Frame
from rules.words import count_in_digits

BEHIND_S = 2.0
"""Age of the oldest datagram that waits, in seconds, from which on judging is behind."""
CAUGHT_UP_S = 0.5
"""Age below which it has caught up."""


class FrameSource:
    """One sender: its link, its receiver, and their state.

    Attributes:
        address: the address of the link, as given.
        clock: the monotonic clock in seconds.
        link: the open link; None before the first opening.  After a failure it is the link that failed.
        opened: set once the link was open.
        failure: why the link is not open; '' while it is.
        failures: failures so far.
        retry_at_s: time of the next attempt on `clock`.
    """

    def __init__(
        self,
        receiver: Receiver,
        make_link: Callable[[], Link],
        address: str,
        *,
        clock: Clock = time.monotonic,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        """Prepare; nothing is opened yet.

        Args:
            receiver: decodes the datagrams.
            make_link: makes a new, unopened link for each attempt.
            address: the address of the link.
            clock: the monotonic clock in seconds.
            sleep: waits a number of seconds.
        """
        self.address = address
        self.clock = clock
        self.link: Link | None = None
        self.opened = asyncio.Event()
        self.failure = ""
        self.failures = 0
        self.retry_at_s = 0.0
        self._receiver = receiver
        self._make_link = make_link
        self._sleep = sleep
        self._behind = False

    @property
    def health(self) -> ReceptionHealth:
        """Counters of the reception."""
        return self._receiver.health

    @property
    def format(self) -> str:
        """Name of the wire format."""
        return self._receiver.decoder.format

    @property
    def plan(self) -> MapPlan:
        """The map from fields to signals."""
        return self._receiver.mapper.plan

    @property
    def port(self) -> int:
        """Port of the open link, for a link that was opened at any free port; 0 if it has none."""
        return int(getattr(self.link, "port", 0))

    def mark_all_changed(self) -> None:
        """Put every signal into the next frame.

        Frames hold only what changed, so whoever does not use one, or has no earlier ones, must call this.
        """
        self._receiver.mark_all_changed()

    def decode(self, data: bytes, recv_s: float, dropped: int = 0, sender: str = "") -> list[Frame]:
        """Decode one datagram of a sender that arrived at `recv_s`, with `dropped` missing before it; no content raises."""
        frames = self._receiver.receive(data, recv_s, dropped, sender)
        if self.link is not None:
            self.health.dropped = self.link.counts.dropped
        return frames

    async def receive_frames(self, deliver: Callable[[Frame], None]) -> None:
        """Deliver each frame until cancelled, or until the link ends.

        Args:
            deliver: called in the event loop; does not raise.
        """

        def decode_and_deliver(datagram: Datagram) -> None:
            sender = datagram.peer if self.link is not None and self.link.tells_senders_apart else ""
            for frame in self.decode(datagram.data, datagram.recv_s, datagram.dropped, sender):
                deliver(frame)

        await self.receive_datagrams(decode_and_deliver)

    async def receive_datagrams(self, deliver: Callable[[Datagram], None]) -> None:
        """Deliver each datagram as it arrived, for a sender whose datagrams are not only frames."""
        log = structlog.get_logger("link")
        back_off = BackOff()
        while True:
            try:
                async with self._make_link() as link:
                    self.link, self.failure = link, ""
                    back_off.reset()
                    self.opened.set()
                    log.info("link open", link=link.name)
                    async for datagram in link:
                        deliver(datagram)
                    return
            except LinkError as error:
                self.failures += 1
                wait_s = back_off.next_s()
                self.failure, self.retry_at_s = str(error), self.clock() + wait_s
                log.warning("link failed", why=str(error), again_in_s=wait_s)
            await self._sleep(wait_s)

    def delivered_until_s(self) -> float:
        """Give the time up to which everything that arrived was delivered: now, or earlier while datagrams wait.

        The age of a value counts up to this time: what waits in our own queue is not missing.
        """
        now_s = self.clock()
        return self.link.read_until_s(now_s) if self.link is not None else now_s

    def report(self) -> LinkReport:
        """Report the present state of the link and of the reception."""
        link, health, now_s = self.link, self.health, self.clock()
        name = link.name if link is not None else self.address
        health.refused_by_link = link.counts.refused if link is not None else 0
        if self.failure:
            wait = f"trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"
            return LinkReport(name, LinkState.BROKEN, f"{self.failure}; {wait}", self.failures)
        if link is None:
            return LinkReport(name, LinkState.OPENING, "opening")
        if link.status(now_s) is LinkStatus.RETRYING:
            return LinkReport(name, LinkState.BROKEN, link.status_text(now_s))
        if health.last_recv_s is None:
            return LinkReport(name, LinkState.WAITING, link.status_text(now_s) + self._refused_text())
        if self._is_behind(now_s - link.read_until_s(now_s)):
            return LinkReport(name, LinkState.BEHIND, self._behind_text(link, now_s))
        state = state_by_age(health, health.last_recv_s, now_s)
        return LinkReport(name, state, health.status_text(now_s), brief=health.brief_text(now_s))

    def _refused_text(self) -> str:
        """Describe what the link refused while nothing else arrived; '' if that is nothing."""
        refused = self.health.refused_by_link
        why = "from a sender or with a topic that was not named"
        return f"; {count_in_digits(refused, 'packet')} refused, {why}" if refused else ""

    def _is_behind(self, age_s: float) -> bool:
        """Tell whether the oldest waiting datagram is too old; it must be much younger before that is over."""
        self._behind = age_s >= (CAUGHT_UP_S if self._behind else BEHIND_S)
        return self._behind

    def _behind_text(self, link: Link, now_s: float) -> str:
        """Describe how far judging is behind, and what was dropped already."""
        age_s = now_s - link.read_until_s(now_s)
        waiting = count_in_digits(link.backlog, "packet")
        dropped = f", {link.counts.dropped} dropped" if link.counts.dropped else ""
        return f"this computer is {age_s:.0f} s behind: {waiting} to judge{dropped}"
