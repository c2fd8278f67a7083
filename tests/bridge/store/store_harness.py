"""Provides a device whose sessions are stored, on manual clocks, for the tests of the store.

Takes: a pack, a folder, an address.  Gives: `StoreHarness`: send frames, make requests, let time pass, read tables.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, Table, select

from bridge.runtime.device import Device, build_device
from bridge.session.requests import Request, Verb
from bridge.session.session_events import KINDS, SessionChange, SessionEvent
from bridge.store.database import open_store, read_transaction
from bridge.store.session_store import SessionStore
from bridge.store.spool import SpoolReader, spool_paths
from bridge.store.spool_records import SpoolRecord
from bridge.store.store_writer import StoreWriter
from rules.judge.events import Finding, FindingChanged, FindingOpened
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, FrameSender, feed
from tests.contract.waiting import ManualClock

BEGAN_UTC = 1_795_579_200.0
"""25 November 2026, 04:00 UTC."""


class StoreHarness:
    """One device whose sessions are stored; nothing happens without a call."""

    def __init__(
        self, pack: Pack, folder: Path, address: str, opener: Callable[[str], Engine] = open_store
    ) -> None:
        """Store its first session from the start."""
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self.clock, self.wall = ManualClock(), ManualClock(BEGAN_UTC)
        self.device: Device = build_device(pack, TRIP, "udp://127.0.0.1:0", wall_clock=self.wall)
        self.device.source.clock = self.clock
        self.events: list[SessionEvent] = []
        self.device.bus.subscribe(self.events.append, *KINDS)
        self.writer = StoreWriter(folder, address, opener=opener, clock=self.clock)
        self.session_store = SessionStore(self.device, folder, self.writer, recorded=False)
        self.sender = FrameSender()
        self._engine: Engine | None = None
        self._address = address

    def send(self, sim_s: float, values: dict[str, Value] | None = None, **calls: float) -> None:
        """Receive one frame now."""
        feed(self.device, self.sender.datagram(sim_s, values, **calls), self.clock())

    def request(self, verb: Verb, name: str = "", reason: str = "") -> None:
        """Make a request as the instructor."""
        self.device.handle(Request(verb, name, "instructor", reason))

    def advance(self, by_s: float) -> None:
        """Let time pass on both clocks, then tick."""
        self.clock.now_s += by_s
        self.wall.now_s += by_s
        self.device.runner.tick()

    def fly_push_back(self, since_s: float = 0.0) -> None:
        """Fly from the stand to the push back with a dark beacon and low pressure: at least two findings."""
        values: dict[str, Value] = {"lights.beacon": "off", "hydraulics.1.pressure": 1200.0}
        for second in range(6):
            self.send(since_s + second, values, **({"push_approved": since_s + 2.0} if second >= 2 else {}))
            self.advance(1.0)
        self.send(since_s + 6.0, {**values, "flight.ground_speed": 3.0})
        self.advance(1.0)

    def lose_data(self, from_s: float, to_s: float) -> None:
        """Lose nine frames between one at `from_s` and one at `to_s`."""
        self.send(from_s)
        self.sender.lose(9)
        self.advance(to_s - from_s)
        self.send(to_s)

    def findings(self) -> dict[int, Finding]:
        """Return the published findings in their latest state, by number."""
        published = [t for t in self.events if isinstance(t, FindingOpened | FindingChanged)]
        return {each.finding.number: each.finding for each in published}

    def session_changes(self) -> list[SessionChange]:
        """Return the published session changes."""
        return [each for each in self.events if isinstance(each, SessionChange)]

    def spool_records(self) -> list[SpoolRecord]:
        """Read all records of the spool."""
        return [
            record for path in spool_paths(self.folder) for record, _ in SpoolReader(path).next_records(10**6)
        ]

    def rows(self, table: Table) -> Sequence[Any]:
        """Read the rows of a table, by session and number."""
        if self._engine is None:
            self._engine = open_store(self._address)
        with read_transaction(self._engine) as connection:
            return connection.execute(select(table).order_by(*table.primary_key.columns)).all()

    def close(self) -> None:
        """Close everything."""
        self.session_store.close()
        self.writer.finish()
        if self._engine is not None:
            self._engine.dispose()
