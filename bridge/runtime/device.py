"""A device (a simulator or a playback) and the sessions that are watched on it.

Takes: a pack, a trip sheet, the address of a link, a wire format or map file.  Gives: a `Device` that can run.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from adapters.decoders.base import FORMATS
from adapters.factory import link_for, receiver_for
from adapters.frame_source import FrameSource
from adapters.link_report import LinkReport
from adapters.mapping.load_map import MapFile
from bridge.runtime.device_events import PersistencePart, PersistenceProblem, RunnerTicked, SessionCreated
from bridge.runtime.runner import SessionRunner
from bridge.session.event_bus import EventBus
from bridge.session.input_signals import input_signals
from bridge.session.journal import Journal
from bridge.session.request_handlers import MAX_NAME_LENGTH, handle_request, refusal
from bridge.session.requesters import check_requester
from bridge.session.requests import Reply, Request, checked_texts
from bridge.session.session import Session, SessionState
from bridge.session.session_events import SessionEvent, SessionStarted
from bridge.session.timeline import Timeline
from rules.faults import InputFaults, Place
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.source import unknown_fault
from rules.words import join_or

PLAYBACK_VERBS = ("playback_start", "playback_pause", "playback_seek", "playback_speed")
"""Verbs that only a playback accepts."""


JOURNALS_IN_MEMORY = 20
"""Past sessions whose events stay in memory: a device that runs for months begins thousands."""


@dataclass(frozen=True, slots=True)
class PastSession:
    """A session that is over; times in seconds since 1970.

    `findings` is the number of its findings; `journal` has its events, None where later sessions took their place in memory.
    """

    name: str
    crew: Mapping[str, str]
    began_utc: float
    ended_utc: float
    findings: int
    was_judged: bool
    journal: Journal | None


@dataclass(frozen=True, slots=True)
class PlaybackStatus:
    """State of a playback: position and end in seconds from the start of the recording, and speed."""

    position_s: float
    end_s: float
    speed: float
    running: bool
    ended: bool


class PlaybackControl(Protocol):
    """Controls of a playback."""

    def handle(self, request: Request) -> Reply:
        """Apply a playback request."""

    def status(self) -> PlaybackStatus:
        """Return the present state."""


class Device:
    """One device and the sessions that are watched on it, one after the other.

    Attributes:
        id: names the device in addresses of pages and topics.
        title: on screens.
        bus: the inputs and events of this and all later sessions, and the events of `bridge.runtime.device_events`.
        session: the present session.
        source: the sender of the device: its frames, and the health of reception.
        journal: events of the present session.
        timeline: lines of all sessions.
        past_sessions: the sessions that are over; the latest of them have their events.
        link_state_since_s: time of the last change of the link's state, on the runner's clock.
        playback_control: controls of a playback; None for a simulator.
    """

    playback_control: PlaybackControl | None = None

    def __init__(
        self,
        pack: Pack,
        trip: TripSheet,
        source: FrameSource,
        make_runner: Callable[[Session, FrameSource], SessionRunner] = SessionRunner,
        *,
        device_id: str = "device",
        title: str = "",
        wall_clock: Callable[[], float] = time.time,
    ) -> None:
        """Start the first session.

        Args:
            pack: of all sessions.
            trip: the trip sheet of the first session.
            source: gives the frames of the device.
            make_runner: connects a session with the source.
            device_id: the device's id.
            title: on screens; the pack's title if empty.
            wall_clock: seconds since 1970.
        """
        self.id = device_id
        self.title = title or pack.title
        self.pack = pack
        self.trip = trip
        self.past_sessions: list[PastSession] = []
        self.timeline = Timeline(pack, wall_clock)
        self._wall_clock = wall_clock
        self.source = source
        self._problems = dict.fromkeys(PersistencePart, "")
        self.journal = Journal()
        self.bus = EventBus()
        self.bus.subscribe(self._add_to_journal, *Journal.EVENTS)
        self.bus.subscribe(self.timeline, *Timeline.EVENTS)
        self.bus.subscribe(self._set_problem, PersistenceProblem)
        self.bus.subscribe(self._update_link_state, RunnerTicked)
        self.session = self._new_session("Session 1", "")
        self.session_began_utc = wall_clock()
        self.runner = make_runner(self.session, source)
        self.link_state_since_s = source.clock()
        self._link_state = ""

    def on_each_session(self, callback: Callable[[SessionCreated], None]) -> None:
        """Call a function with the present session now, and with each later one before its first event."""
        self.bus.subscribe(callback, SessionCreated)
        callback(SessionCreated(self.session))

    def handle(self, request: Request) -> Reply:
        """Apply a request of the crew or the instructor; one by an unknown seat or role is refused."""
        try:
            request = checked_texts(request)
            check_requester(request, self.pack, self.session.crew.values())
        except InputFaults as faults:
            return Reply(accepted=False, text=str(faults))
        if request.verb in PLAYBACK_VERBS:
            if self.playback_control is None:
                what = "this device is a simulator, not a playback"
                hint = "start the watch with --link recording:PATH"
                return Reply(accepted=False, text=str(refusal(request.verb, what, "", hint)))
            return self.playback_control.handle(request)
        if request.verb != "start_session":
            return handle_request(self.session, request)
        name = request.name.strip() or f"Session {len(self.past_sessions) + 2}"
        if len(name) > MAX_NAME_LENGTH:
            return Reply(
                accepted=False, text=f"start session: a name has at most {MAX_NAME_LENGTH} characters"
            )
        self.start_session(name, request.by)
        return Reply(accepted=True, text=f"started: {name}")

    def start_session(self, name: str, by: str = "") -> None:
        """End the present session if necessary, and start another with the present trip values and without data."""
        before = self.session
        if before.state is not SessionState.ENDED:
            handle_request(before, Request("end", "", by, "the next session starts"))
        self.trip = replace(self.trip, values=before.trip_values)
        times_utc = self.session_began_utc, self._wall_clock()
        counts = len(self.journal.findings), bool(self.journal.phases)
        self.past_sessions.append(
            PastSession(before.name, dict(before.crew), *times_utc, *counts, self.journal)
        )
        for number in range(len(self.past_sessions) - JOURNALS_IN_MEMORY):
            self.past_sessions[number] = replace(self.past_sessions[number], journal=None)
        self.journal = Journal()
        self.session = self.runner.session = self._new_session(name, before.course)
        self.session_began_utc = self._wall_clock()
        self.session.publish([SessionStarted(*self.session.event_times(), name, by)])

    def link_report(self) -> LinkReport:
        """Report the present state of the link."""
        now = self.source.report()
        if now.state != self._link_state:
            self._link_state, self.link_state_since_s = now.state, self.source.clock()
        return now

    @property
    def persistence_problems(self) -> list[str]:
        """Present problems of recording and storing."""
        return [problem for problem in self._problems.values() if problem]

    def _add_to_journal(self, event: SessionEvent) -> None:
        """Add an event to the journal of the present session."""
        self.journal(event)

    def _set_problem(self, problem: PersistenceProblem) -> None:
        self._problems[problem.part] = problem.text

    def _update_link_state(self, _: RunnerTicked) -> None:
        """Update the time of the last change of the link's state, at each tick."""
        self.link_report()

    def _new_session(self, name: str, course: str) -> Session:
        self.bus.begin_session()
        session = Session(
            Judge(self.pack, self.trip),
            self.bus,
            ask_for_all=self.source.mark_all_changed,
            name=name,
            wall_clock=self._wall_clock,
        )
        session.course = course
        self.bus.publish(SessionCreated(session))
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
    """Build a device; nothing is opened yet.

    Args:
        pack: of all sessions.
        trip: the trip sheet of the first session.
        address: the link, such as udp://127.0.0.1:5139.
        wire_format: the wire format, where there is no map file.
        map_file: binds raw fields to signals.
        peers: addresses that may send, where the link listens on more than loopback.
        device_id: the device's id.
        title: on screens.
        wall_clock: seconds since 1970.

    Raises:
        LinkError: the address cannot be understood.
        InputFaults: there is no such format.
    """
    if wire_format not in FORMATS:
        raise InputFaults(
            [unknown_fault(Place("--format"), "format", wire_format, FORMATS, join_or(FORMATS))]
        )
    calls = tuple(pack.calls)
    receiver = receiver_for(
        input_signals(pack), format_name=wire_format, map_file=map_file, calls=calls, link=address
    )
    make_link = partial(link_for, address, receiver.decoder, peers=peers)
    make_link()  # raises at once for a wrong address
    return Device(
        pack,
        trip,
        FrameSource(receiver, make_link, address),
        device_id=device_id,
        title=title,
        wall_clock=wall_clock,
    )
