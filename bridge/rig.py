"""A device and the sessions that are watched on it: everything for that, put together.

Takes: a pack, a trip sheet, a link's address, and how its bytes read.  Gives: a `Rig` that can run and be drawn.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from rich.console import RenderableType

from adapters.build import FORMATS, link_for, receiver_for
from adapters.links.base import Link
from adapters.mapping.load import MapFile
from adapters.receiver import Receiver
from bridge.control import Reply, Request
from bridge.glance import take_glance
from bridge.journal import Journal
from bridge.live import Run
from bridge.notes import Change
from bridge.reception import Reception, reception
from bridge.requests import LONGEST_NAME, grant
from bridge.screen import draw
from bridge.sent import sent_signals
from bridge.session import Listener, Session, Standing
from bridge.supervise import Upkeep
from bridge.timeline import Timeline
from rules.faults import Fault, InputFaults, Place
from rules.judge.core import Core
from rules.packs.model import Pack
from rules.packs.trip import Trip
from rules.source import did_you_mean

KNOBS = ("play", "stop", "seek", "speed")
"""What is asked of who plays a recording."""


@dataclass(frozen=True, slots=True)
class Past:
    """A session that is over: its name, who sat where, when it began and ended (seconds since 1970), what was found."""

    name: str
    crew: Mapping[str, str]
    began_utc: float
    ended_utc: float
    findings: int


@dataclass(frozen=True, slots=True)
class Playing:
    """How a recording is played: where it is and where it ends (seconds from its beginning), how fast, whether it goes on."""

    at_s: float
    to_s: float
    speed: float
    runs: bool
    ended: bool


class Turned(Protocol):
    """What people can turn where a recording is played."""

    def turn(self, request: Request) -> Reply:
        """Do what is asked."""

    def now(self) -> Playing:
        """How it plays now."""


class Rig:
    """One device (a simulator) and the sessions watched on it, one after the other.

    Attributes:
        id: a word that names the device in addresses of pages and topics.
        title: how it is called.
        session: the present one.
        journal: what the present session has said.
        timeline: what all of them said, as lines.
        past: the sessions that are over.
        standing_since_s: since when the link stands as it does, on the run's clock.
        troubles: each says what stands in the way of keeping the sessions, '' while nothing does.
        knobs: what can be turned where a recording is played; None for a simulator.
    """

    knobs: Turned | None = None

    def __init__(
        self,
        pack: Pack,
        papers: Trip,
        receiver: Receiver,
        run: Callable[[Session], Run],
        *,
        name: str = "device",
        title: str = "",
        wall: Callable[[], float] = time.time,
    ) -> None:
        """Its first session runs at once.

        Args:
            pack: the rules.
            papers: the trip sheet of the first session.
            receiver: decodes what the device sends.
            run: puts a session on the link.
            name: the device's id.
            title: how it is called; the pack's title if nothing is said.
            wall: seconds since 1970.
        """
        self.id = name
        self.title = title or pack.title
        self.pack = pack
        self.papers = papers
        self.past: list[Past] = []
        self.troubles: list[Callable[[], str]] = []
        self.timeline = Timeline(pack, wall)
        self._wall = wall
        self._receiver = receiver
        self._listeners: list[Listener] = []
        self._attendants: list[Callable[[Session], None]] = []
        self.journal = Journal()
        self.session = self._new_session("Session 1", "")
        self.began_utc = wall()
        self.run = run(self.session)
        self.standing_since_s = self.run.clock()
        self._standing = ""
        self.run.beats.append(self._look)

    def listen(self, listener: Listener) -> None:
        """Let one more hear every session from now on."""
        self._listeners.append(listener)
        self.session.listen(listener)

    def attend(self, attendant: Callable[[Session], None]) -> None:
        """Let one more meet every session before anything is told of it: the present one now, others as they begin."""
        self._attendants.append(attendant)
        attendant(self.session)

    def answer(self, request: Request) -> Reply:
        """Do what the crew or the instructor asks, or say why not."""
        if request.verb in KNOBS:
            if self.knobs is None:
                return Reply(
                    done=False, text=f"{request.verb}: this is a simulator, no recording that is played"
                )
            return self.knobs.turn(request)
        if request.verb != "begin":
            return grant(self.session, request)
        name = request.name.strip() or f"Session {len(self.past) + 2}"
        if len(name) > LONGEST_NAME or not name.isprintable():
            return Reply(done=False, text=f"begin: a name has at most {LONGEST_NAME} characters")
        self.begin(name, request.by)
        return Reply(done=True, text=f"begun: {name}")

    def begin(self, name: str, by: str = "") -> None:
        """End the present session, if it has not ended, and begin another with nothing received yet, on the papers that hold."""
        before = self.session
        if before.standing is not Standing.ENDED:
            grant(before, Request("end", "", by, "the next session begins"))
        self.papers = replace(self.papers, values=before.core.papers)
        findings = len(self.journal.findings)
        self.past.append(Past(before.name, dict(before.crew), self.began_utc, self._wall(), findings))
        self.journal = Journal()
        self.session = self.run.session = self._new_session(name, before.course)
        self.began_utc = self._wall()
        self.session.note(Change.BEGUN, name, by)

    def reception(self) -> Reception:
        """How the link stands now."""
        now_s = self.run.clock()
        now = reception(self.run.upkeep, self._receiver.health, self.run.address, now_s)
        if now.standing != self._standing:
            self._standing, self.standing_since_s = now.standing, now_s
        return now

    @property
    def kept_words(self) -> list[str]:
        """What stands in the way of keeping the sessions now."""
        return [words for trouble in self.troubles if (words := trouble())]

    def _look(self) -> None:
        """Note at each tick how the link stands."""
        self.reception()

    def draw(self) -> RenderableType:
        """The screen as it is now."""
        return draw(
            take_glance(self.session.core),
            self.pack.seats,
            self.journal.notices,
            [self.reception()],
            self.kept_words,
        )

    def _new_session(self, name: str, course: str) -> Session:
        listeners: list[Listener] = [self.journal, self.timeline, *self._listeners]
        session = Session(Core(self.pack, self.papers), self._receiver, listeners, name=name, wall=self._wall)
        session.course = course
        for attendant in self._attendants:
            attendant(session)
        return session


def build_rig(
    pack: Pack,
    trip: Trip,
    address: str,
    *,
    form: str = "msgpack",
    map_file: MapFile | None = None,
    peers: Collection[str] = (),
    name: str = "device",
    title: str = "",
    wall: Callable[[], float] = time.time,
) -> Rig:
    """Put a rig together; nothing is opened yet.

    Args:
        pack: the rules.
        trip: the papers.
        address: the link, such as udp://127.0.0.1:5139.
        form: the wire format, where there is no map file.
        map_file: binds raw fields to signals.
        peers: addresses that may send, where the link listens on more than loopback.
        name: the device's id.
        title: how the device is called.
        wall: seconds since 1970.

    Raises:
        LinkError: the address cannot be understood.
        InputFaults: there is no such format.
    """
    if form not in FORMATS:
        hint = did_you_mean(form, FORMATS)
        expected = f"one of {', '.join(FORMATS)}"
        raise InputFaults([Fault(Place("--format"), f"unknown format {form}", expected, hint)])
    calls = tuple(pack.calls)
    receiver = receiver_for(sent_signals(pack), form=form, map_file=map_file, calls=calls, link=address)
    make = _maker(address, receiver, peers)
    make()  # says at once what is wrong with the address
    return Rig(
        pack,
        trip,
        receiver,
        lambda session: Run(session, make, Upkeep(), address),
        name=name,
        title=title,
        wall=wall,
    )


def _maker(address: str, receiver: Receiver, peers: Collection[str]) -> Callable[[], Link]:
    """Makes the link anew each time that it has to be opened."""
    return lambda: link_for(address, receiver.decoder, peers=peers)
