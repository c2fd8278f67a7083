"""Everything that one watched flight needs, put together.

Takes: a pack, a trip sheet, a link's address, and how its bytes read.  Gives: a `Rig` that can run and be drawn.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection
from dataclasses import dataclass

from rich.console import RenderableType

from adapters.build import FORMATS, link_for, receiver_for
from adapters.links.base import Link
from adapters.mapping.load import MapFile
from adapters.receiver import Receiver
from bridge.glance import take_glance
from bridge.journal import Journal
from bridge.live import Run
from bridge.reception import Reception, reception
from bridge.screen import draw
from bridge.sent import sent_signals
from bridge.session import Session
from bridge.supervise import Upkeep
from rules.faults import Fault, InputFaults, Place
from rules.judge.core import Core
from rules.packs.model import Pack
from rules.packs.trip import Trip
from rules.source import did_you_mean


@dataclass(slots=True)
class Rig:
    """One watched flight."""

    pack: Pack
    session: Session
    journal: Journal
    run: Run
    clock: Callable[[], float] = time.monotonic

    def reception(self) -> Reception:
        """How the link stands now."""
        return reception(self.run.upkeep, self.session.receiver.health, self.run.address, self.clock())

    def draw(self) -> RenderableType:
        """The screen as it is now."""
        return draw(take_glance(self.session.core), self.pack.seats, self.journal.notices, [self.reception()])


def build_rig(
    pack: Pack,
    trip: Trip,
    address: str,
    *,
    form: str = "msgpack",
    map_file: MapFile | None = None,
    peers: Collection[str] = (),
) -> Rig:
    """Put a rig together; nothing is opened yet.

    Args:
        pack: the rules.
        trip: the papers.
        address: the link, such as udp://127.0.0.1:5139.
        form: the wire format, where there is no map file.
        map_file: binds raw fields to signals.
        peers: addresses that may send, where the link listens on more than loopback.

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
    journal = Journal()
    session = Session(Core(pack, trip), receiver, [journal])
    upkeep = Upkeep()
    make = _maker(address, receiver, peers)
    make()  # says at once what is wrong with the address
    return Rig(pack, session, journal, Run(session, make, upkeep, address))


def _maker(address: str, receiver: Receiver, peers: Collection[str]) -> Callable[[], Link]:
    """Makes the link anew each time that it has to be opened."""
    return lambda: link_for(address, receiver.decoder, peers=peers)
