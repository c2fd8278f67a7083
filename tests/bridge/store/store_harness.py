"""A rig whose sessions are kept, on clocks that are moved by hand, for the tests of the store.

Takes: a pack, a folder, an address.  Gives: `Desk`: send, ask, let time pass, drain, and read the tables.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, Table, select

from bridge.runtime.device import Device, build_device
from bridge.session.requests import Request, Verb
from bridge.session.session_events import SessionChanged, SessionEvent
from bridge.store.database import open_store, read_transaction
from bridge.store.session_store import SessionStore
from bridge.store.spool import SpoolReader, spool_paths
from bridge.store.spool_records import SpoolRecord
from bridge.store.store_writer import StoreWriter
from rules.judge.events import Finding, FindingChanged, FindingOpened
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, FrameSender
from tests.contract.waiting import ManualClock

BEGAN_UTC = 1_795_579_200.0
"""25 November 2026, 04:00 UTC."""


class StoreHarness:
    """One device, kept; nothing happens by itself."""

    def __init__(
        self, pack: Pack, folder: Path, address: str, opener: Callable[[str], Engine] = open_store
    ) -> None:
        """Its first session is kept from its beginning."""
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self.clock, self.wall = ManualClock(), ManualClock(BEGAN_UTC)
        self.device: Device = build_device(pack, TRIP, "udp://127.0.0.1:0", wall_clock=self.wall)
        self.device.runner.clock = self.clock
        self.events: list[SessionEvent] = []
        self.device.add_listener(self.events.append)
        self.writer = StoreWriter(folder, address, opener=opener, clock=self.clock)
        self.session_store = SessionStore(self.device, folder, self.writer, recorded=False)
        self.sender = FrameSender()
        self._engine: Engine | None = None
        self._address = address

    def send(self, sim_s: float, values: dict[str, Value] | None = None, **calls: float) -> None:
        """One frame arrives now."""
        self.device.session.receive(self.sender.datagram(sim_s, values, **calls), self.clock())

    def request(self, verb: Verb, name: str = "", reason: str = "") -> None:
        """Somebody asks something."""
        self.device.handle(Request(verb, name, "instructor", reason))

    def advance(self, by_s: float) -> None:
        """Time passes on both clocks; the rig ticks."""
        self.clock.now_s += by_s
        self.wall.now_s += by_s
        self.device.runner.tick()

    def fly_push_back(self, since_s: float = 0.0) -> None:
        """From the stand to the push back, with the beacon off and too little pressure: two findings or more."""
        bad: dict[str, Value] = {"lights.beacon": "off", "hydraulics.1.pressure": 1200.0}
        for second in range(6):
            self.send(since_s + second, bad, **({"push_approved": since_s + 2.0} if second >= 2 else {}))
            self.advance(1.0)
        self.send(since_s + 6.0, {**bad, "flight.ground_speed": 3.0})
        self.advance(1.0)

    def findings(self) -> dict[int, Finding]:
        """The findings as they were told last, by their numbers; the first session's, where there are more."""
        told = [t for t in self.events if isinstance(t, FindingOpened | FindingChanged)]
        return {each.finding.number: each.finding for each in told}

    def session_events(self) -> list[SessionChanged]:
        """The notes of sessions among what was told."""
        return [each for each in self.events if isinstance(each, SessionChanged)]

    def spool_records(self) -> list[SpoolRecord]:
        """What stands in the spool."""
        return [
            line for path in spool_paths(self.folder) for line, _ in SpoolReader(path).next_records(10**6)
        ]

    def rows(self, table: Table) -> Sequence[Any]:
        """The rows of a table, by session and number."""
        if self._engine is None:
            self._engine = open_store(self._address)
        with read_transaction(self._engine) as connection:
            return connection.execute(select(table).order_by(*table.primary_key.columns)).all()

    def close(self) -> None:
        """Let go of everything."""
        self.session_store.close()
        self.writer.finish()
        if self._engine is not None:
            self._engine.dispose()
