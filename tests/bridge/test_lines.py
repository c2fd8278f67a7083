"""Tests of bridge.lines: a flight told in lines."""

from __future__ import annotations

import io

from bridge.lines import Lines
from bridge.notes import Change, SessionNoted
from bridge.screen import console_for
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.making import Sender, paper, rig_of, text_of
from tests.contract.until import Clock


def test_a_flight_in_lines(pack: Pack, clock: Clock) -> None:
    """Phases, calls, gates and notices come as one line each, however long, in their order."""
    rig, _ = rig_of(pack, clock)
    console = paper(40)
    rig.listen(Lines(console, pack, lambda: None))
    sender = Sender()
    off: dict[str, Value] = {"lights.beacon": "off", "hydraulics.1.pressure": 1240.0}
    for second in range(4):
        rig.session.take(sender.datagram(second, off, **({"push_approved": 1.0} if second else {})), second)
    rig.session.take(sender.datagram(0.0, off), 10.0)
    assert text_of(console).splitlines()[:6] == [
        "0:00:00 PHASE    At the stand",
        "0:00:01 CALL     push approved",
        "0:00:01 GATE     Push back: 3 open",
        "0:00:02 WARNING  Before push back: hydraulic 1 pressure 1 240 psi, needs 2 800 to 3 200.",
        "0:00:02 CAUTION  Before push back: beacon is off, needs on.",
        "0:00:02 ADVISORY Before push back: Documents on board: not confirmed.",
    ]
    assert "0:00:00 RESET    the simulator's clock jumped back; all is judged anew" in text_of(console)


def test_the_link_has_lines_of_its_own(pack: Pack) -> None:
    """What became of the link is a line that begins with LINK."""
    console = paper()
    Lines(console, pack, lambda: None).link("udp 127.0.0.1:5139: no data for 2 s")
    assert text_of(console) == "LINK udp 127.0.0.1:5139: no data for 2 s"


class Closed(io.StringIO):
    """A pipe that nobody reads any more."""

    def write(self, _text: str) -> int:
        """Fail as the system does."""
        raise BrokenPipeError


def test_a_closed_pipe_ends_the_watch(pack: Pack) -> None:
    """Where nobody reads the lines any more, that is told, and nothing is raised."""
    gone: list[str] = []
    Lines(console_for(Closed()), pack, lambda: gone.append("gone")).link("udp: open")
    assert gone


def test_what_stands_in_the_way_of_keeping_is_a_line(pack: Pack) -> None:
    """That a disk is nearly full, and that the store cannot be reached, is told in lines; that a session began is not."""
    console = paper(120)
    lines = Lines(console, pack, lambda: None)
    for change, text in ((Change.BEGUN, "x"), (Change.NEARLY_FULL, "900 MB left"), (Change.STORED, "")):
        lines(SessionNoted(61.0, 0.0, change, text))
    assert text_of(console).splitlines() == [
        "0:01:01 KEEP     disk nearly full: 900 MB left",
        "0:01:01 KEEP     stored again",
    ]
