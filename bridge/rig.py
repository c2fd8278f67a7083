"""Everything that one watched flight needs, put together.

Takes: a pack, a trip sheet, a link's address, and how its bytes read.  Gives: a `Rig` that can run and be drawn.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from rich.console import RenderableType

from adapters.build import link_for, receiver_for
from adapters.links.base import Link
from adapters.mapping.load import MapFile
from adapters.receiver import Receiver
from bridge.journal import Journal
from bridge.live import Run
from bridge.screen import LinkWords, draw
from bridge.session import Listener, Session
from bridge.supervise import Upkeep
from rules.faults import Fault, InputFaults, Place
from rules.judge.core import Core
from rules.packs.model import Pack
from rules.packs.trip import Trip


@dataclass(slots=True)
class Rig:
    """One watched flight."""

    pack: Pack
    session: Session
    journal: Journal
    run: Run
    clock: Callable[[], float] = time.monotonic

    def links(self) -> list[LinkWords]:
        """The link in words: its own trouble first, then how reception goes."""
        now_s = self.clock()
        upkeep, health = self.run.upkeep, self.session.receiver.health
        name = upkeep.link.name if upkeep.link else self.run.address
        trouble = upkeep.words(now_s)
        if trouble:
            return [LinkWords(name, trouble, healthy=False)]
        if health.last_recv_s is None and upkeep.link is not None:
            return [LinkWords(name, upkeep.link.words(now_s).partition(": ")[2], healthy=True)]
        words = health.words(now_s)
        return [LinkWords(name, words, healthy=words.startswith("receiving"))]

    def draw(self) -> RenderableType:
        """The screen as it is now."""
        return draw(
            self.pack.title, self.session.core.picture(), dict(self.pack.seats), self.journal, self.links()
        )


def build_rig(
    pack: Pack,
    trip: Trip,
    address: str,
    *,
    form: str = "msgpack",
    map_file: MapFile | None = None,
    peers: Collection[str] = (),
    listeners: Sequence[Listener] = (),
) -> Rig:
    """Put a rig together; nothing is opened yet.

    Args:
        pack: the rules.
        trip: the papers.
        address: the link, such as udp://127.0.0.1:5139.
        form: the wire format, where there is no map file.
        map_file: binds raw fields to signals.
        peers: addresses that may send, where the link listens on more than loopback.
        listeners: what hears every entry, besides the journal.

    Raises:
        LinkError: the address cannot be understood.
        InputFaults: there is no such format.
    """
    try:
        receiver = receiver_for(
            pack.signals, form=form, map_file=map_file, calls=tuple(pack.calls), link=address
        )
    except ValueError as error:
        raise InputFaults([Fault(Place("--format"), str(error))]) from error
    journal = Journal()
    session = Session(Core(pack, trip), receiver, [journal, *listeners])
    upkeep = Upkeep()
    link_for(address, receiver.decoder, peers=peers)  # says at once what is wrong with the address
    return Rig(pack, session, journal, Run(session, _maker(address, receiver, peers), upkeep, address))


def _maker(address: str, receiver: Receiver, peers: Collection[str]) -> Callable[[], Link]:
    """Makes the link anew each time that it has to be opened."""
    return lambda: link_for(address, receiver.decoder, peers=peers)
