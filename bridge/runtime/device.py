"""A device and the sessions that are watched on it: everything for that, put together.

Takes: a pack, a trip sheet, a link's address, and how its bytes read.  Gives: a `Rig` that can run and be drawn.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from adapters.decoders.base import FORMATS
from adapters.factory import link_for, receiver_for
from adapters.links.base import Link
from adapters.mapping.load_map import MapFile
from adapters.receiver import Receiver
from bridge.runtime.link_state import LinkReport, link_report
from bridge.runtime.runner import SessionRunner
from bridge.runtime.supervisor import SupervisedLink
from bridge.session.input_signals import input_signals
from bridge.session.journal import Journal
from bridge.session.request_handlers import MAX_NAME_LENGTH, handle_request
from bridge.session.requests import Reply, Request
from bridge.session.session import EventListener, Session, SessionState
from bridge.session.session_events import SessionChangeKind
from bridge.session.timeline import Timeline
from rules.faults import Fault, InputFaults, Place
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.source import did_you_mean

PLAYBACK_VERBS = ("playback_start", "playback_pause", "playback_seek", "playback_speed")
"""What is asked of who plays a recording."""


@dataclass(frozen=True, slots=True)
class PastSession:
    """A session that is over: its name, who sat where, when it began and ended (seconds since 1970), what was found."""

    name: str
    crew: Mapping[str, str]
    began_utc: float
    ended_utc: float
    findings: int


@dataclass(frozen=True, slots=True)
class PlaybackStatus:
    """How a recording is played: where it is and where it ends (seconds from its beginning), how fast, whether it goes on."""

    position_s: float
    end_s: float
    speed: float
    running: bool
    ended: bool


class PlaybackControl(Protocol):
    """What people can turn where a recording is played."""

    def handle(self, request: Request) -> Reply:
        """Do what is asked."""

    def status(self) -> PlaybackStatus:
        """How it plays now."""


class Device:
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

    playback_control: PlaybackControl | None = None

    def __init__(
        self,
        pack: Pack,
        trip: TripSheet,
        receiver: Receiver,
        make_runner: Callable[[Session], SessionRunner],
        *,
        device_id: str = "device",
        title: str = "",
        wall_clock: Callable[[], float] = time.time,
    ) -> None:
        """Its first session runs at once.

        Args:
            pack: the rules.
            trip: the trip sheet of the first session.
            receiver: decodes what the device sends.
            make_runner: puts a session on the link.
            device_id: the device's id.
            title: how it is called; the pack's title if nothing is said.
            wall_clock: seconds since 1970.
        """
        self.id = device_id
        self.title = title or pack.title
        self.pack = pack
        self.trip = trip
        self.past_sessions: list[PastSession] = []
        self.problem_checks: list[Callable[[], str]] = []
        self.timeline = Timeline(pack, wall_clock)
        self._wall_clock = wall_clock
        self._receiver = receiver
        self._listeners: list[EventListener] = []
        self._session_hooks: list[Callable[[Session], None]] = []
        self.journal = Journal()
        self.session = self._new_session("Session 1", "")
        self.session_began_utc = wall_clock()
        self.runner = make_runner(self.session)
        self.link_state_since_s = self.runner.clock()
        self._link_state = ""
        self.runner.tick_callbacks.append(self._update_link_state)

    def add_listener(self, listener: EventListener) -> None:
        """Let one more hear every session from now on."""
        self._listeners.append(listener)
        self.session.add_listener(listener)

    def on_each_session(self, hook: Callable[[Session], None]) -> None:
        """Let one more meet every session before anything is told of it: the present one now, others as they begin."""
        self._session_hooks.append(hook)
        hook(self.session)

    def handle(self, request: Request) -> Reply:
        """Do what the crew or the instructor asks, or say why not."""
        if request.verb in PLAYBACK_VERBS:
            if self.playback_control is None:
                return Reply(
                    accepted=False, text=f"{request.verb}: this is a simulator, no recording that is played"
                )
            return self.playback_control.handle(request)
        if request.verb != "start_session":
            return handle_request(self.session, request)
        name = request.name.strip() or f"Session {len(self.past_sessions) + 2}"
        if len(name) > MAX_NAME_LENGTH or not name.isprintable():
            return Reply(
                accepted=False, text=f"start_session: a name has at most {MAX_NAME_LENGTH} characters"
            )
        self.start_session(name, request.by)
        return Reply(accepted=True, text=f"begun: {name}")

    def start_session(self, name: str, by: str = "") -> None:
        """End the present session, if it has not ended, and begin another with nothing received yet, on the papers that hold."""
        before = self.session
        if before.state is not SessionState.ENDED:
            handle_request(before, Request("end", "", by, "the next session begins"))
        self.trip = replace(self.trip, values=before.judge.trip_values)
        findings = len(self.journal.findings)
        self.past_sessions.append(
            PastSession(before.name, dict(before.crew), self.session_began_utc, self._wall_clock(), findings)
        )
        self.journal = Journal()
        self.session = self.runner.session = self._new_session(name, before.course)
        self.session_began_utc = self._wall_clock()
        self.session.publish_change(SessionChangeKind.STARTED, name, by)

    def link_report(self) -> LinkReport:
        """How the link stands now."""
        now_s = self.runner.clock()
        now = link_report(self.runner.supervised_link, self._receiver.health, self.runner.address, now_s)
        if now.state != self._link_state:
            self._link_state, self.link_state_since_s = now.state, now_s
        return now

    @property
    def persistence_problems(self) -> list[str]:
        """What stands in the way of keeping the sessions now."""
        return [words for trouble in self.problem_checks if (words := trouble())]

    def _update_link_state(self) -> None:
        """Note at each tick how the link stands."""
        self.link_report()

    def _new_session(self, name: str, course: str) -> Session:
        listeners: list[EventListener] = [self.journal, self.timeline, *self._listeners]
        session = Session(
            Judge(self.pack, self.trip), self._receiver, listeners, name=name, wall_clock=self._wall_clock
        )
        session.course = course
        for attendant in self._session_hooks:
            attendant(session)
        return session


def build_device(
    pack: Pack,
    trip: TripSheet,
    address: str,
    *,
    wire_format: str = "msgpack",
    map_file: MapFile | None = None,
    peers: Collection[str] = (),
    device_id: str = "device",
    title: str = "",
    wall_clock: Callable[[], float] = time.time,
) -> Device:
    """Put a rig together; nothing is opened yet.

    Args:
        pack: the rules.
        trip: the papers.
        address: the link, such as udp://127.0.0.1:5139.
        wire_format: the wire format, where there is no map file.
        map_file: binds raw fields to signals.
        peers: addresses that may send, where the link listens on more than loopback.
        device_id: the device's id.
        title: how the device is called.
        wall_clock: seconds since 1970.

    Raises:
        LinkError: the address cannot be understood.
        InputFaults: there is no such format.
    """
    if wire_format not in FORMATS:
        hint = did_you_mean(wire_format, FORMATS)
        expected = f"one of {', '.join(FORMATS)}"
        raise InputFaults([Fault(Place("--format"), f"unknown format {wire_format}", expected, hint)])
    calls = tuple(pack.calls)
    receiver = receiver_for(
        input_signals(pack), format_name=wire_format, map_file=map_file, calls=calls, link=address
    )
    make = _link_factory(address, receiver, peers)
    make()  # says at once what is wrong with the address
    return Device(
        pack,
        trip,
        receiver,
        lambda session: SessionRunner(session, make, SupervisedLink(), address),
        device_id=device_id,
        title=title,
        wall_clock=wall_clock,
    )


def _link_factory(address: str, receiver: Receiver, peers: Collection[str]) -> Callable[[], Link]:
    """Makes the link anew each time that it has to be opened."""
    return lambda: link_for(address, receiver.decoder, peers=peers)
