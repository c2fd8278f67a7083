"""Tests of bridge.terminal.console_log: the printed lines of a flight."""

from __future__ import annotations

import io

from bridge.session.event_bus import EventBus
from bridge.session.requests import Request
from bridge.session.session_events import DiskNearlyFull, SessionStarted, StoreReachable
from bridge.terminal.console import make_console
from bridge.terminal.console_log import ConsoleLog
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import FrameSender, device_on_memory_link, feed, printed_text, text_console
from tests.contract.waiting import ManualClock


def test_each_event_of_a_flight_is_one_line(pack: Pack, clock: ManualClock) -> None:
    """Phases, calls, gates and notices are printed in order, each on one line of any length."""
    device, _ = device_on_memory_link(pack, clock)
    console = text_console(40)
    device.bus.subscribe(ConsoleLog(console, pack, lambda: None), *ConsoleLog.EVENTS)
    sender = FrameSender()
    off: dict[str, Value] = {"lights.beacon": "off", "hydraulics.1.pressure": 1240.0}
    for second in range(4):
        feed(device, sender.datagram(second, off, **({"push_approved": 1.0} if second else {})), second)
    feed(device, sender.datagram(0.0, off), 10.0)
    assert printed_text(console).splitlines()[:6] == [
        "0:00:00 PHASE    At the stand",
        "0:00:01 CALL     push approved",
        "0:00:01 GATE     Push back at the cue: 3 open, 3 of 3 judged",
        "0:00:02 WARNING  Before push back: hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200 psi.",
        "0:00:02 CAUTION  Before push back: beacon is off.",
        "0:00:02 ADVISORY Before push back: Documents on board: not confirmed.",
    ]
    assert "0:00:00 RESET    the simulator's clock jumped back; judging starts again" in printed_text(console)


def test_waivers_are_lines(pack: Pack, clock: ManualClock) -> None:
    """A waiver and its undo are lines with item, reason and author."""
    device, _ = device_on_memory_link(pack, clock)
    console = text_console()
    device.bus.subscribe(ConsoleLog(console, pack, lambda: None), *ConsoleLog.EVENTS)
    feed(device, FrameSender().datagram(5.0), 5.0)
    device.handle(Request("waive", "flow.before.beacon", "captain", "lamp failed"))
    device.handle(Request("undo_waiver", "flow.before.beacon", "instructor"))
    assert printed_text(console).splitlines()[1:] == [
        "0:00:05 WAIVER   Beacon waived: lamp failed, by captain",
        "0:00:05 WAIVER   Beacon no longer waived, by instructor",
    ]


def test_a_change_of_the_link_is_a_line(pack: Pack) -> None:
    """A change of the link is printed as a line that begins with LINK."""
    console = text_console()
    ConsoleLog(console, pack, lambda: None).print_link("udp 127.0.0.1:5139: no data for 2 s")
    assert printed_text(console) == "LINK udp 127.0.0.1:5139: no data for 2 s"


class ClosedPipe(io.StringIO):
    """A closed pipe."""

    def write(self, _text: str) -> int:
        """Raise the system's error for a closed pipe."""
        raise BrokenPipeError


def test_a_closed_pipe_ends_the_watch(pack: Pack) -> None:
    """A closed pipe calls the callback and raises no error."""
    callbacks: list[str] = []
    ConsoleLog(make_console(ClosedPipe()), pack, lambda: callbacks.append("closed")).print_link("udp: open")
    assert callbacks


def test_problems_of_disk_and_store_are_lines(pack: Pack) -> None:
    """Problems of disk and store, and the start of a session, are printed."""
    console = text_console(120)
    bus = EventBus()
    bus.subscribe(ConsoleLog(console, pack, lambda: None), *ConsoleLog.EVENTS)
    times = 61.0, 0.0
    bus.publish_step(
        [SessionStarted(*times, "x"), DiskNearlyFull(*times, "900 MB left"), StoreReachable(*times)]
    )
    assert printed_text(console).splitlines() == [
        "0:01:01 SESSION  started: x",
        "0:01:01 DATA     disk nearly full: 900 MB left",
        "0:01:01 DATA     store reachable",
    ]
