"""A watch that is to be killed: it judges, records, keeps and stores as fast as it can, and writes down what it tells.

What a listener hears goes into a file by a plain write: the system has it then, whatever becomes of the program.

Takes: folders, the address of a store.  Gives: nothing; it runs until it is killed.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
from collections.abc import Callable
from itertools import count
from pathlib import Path

import msgspec

from bridge.keep import Keep
from bridge.notes import Told
from bridge.record.keeping import recorded
from bridge.record.writer import Limits
from bridge.rig import Rig, build_rig
from bridge.store.keeping import stored
from rules.judge.entries import FindingChanged, FindingOpened, Notice
from rules.packs.load import load_pack
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.making import PACK, PAPERS, Sender, write_pack

WATCHES = """
watches:
  beacon_off: {label: Beacon, seat: captain, level: caution, expect: lights.beacon is on}
  low_pressure: {label: Pressure, seat: first_officer, level: warning, expect: hydraulics.1.pressure > 2000 psi}
"""


class Heard(msgspec.Struct, frozen=True):
    """One thing that was told: of a finding its number and whether it is closed; of a notice its sentence."""

    session: str
    what: str
    number: int
    closed: bool
    sentence: str


def _load() -> Pack:
    """The small pack, with two watches that go off and on again."""
    with tempfile.TemporaryDirectory() as folder:
        return load_pack(str(write_pack(Path(folder) / "small", PACK + WATCHES)), trip=PAPERS)


SMALL = _load()
"""Loaded once, in the process from which all that are killed are forked."""


def fly(folder: str, address: str, told: str) -> None:
    """Fly until killed.

    Args:
        folder: where recordings and the spool are.
        address: the store's.
        told: the file of what was told.
    """
    asyncio.run(_fly(Keep(Path(folder)), address, told))


async def _fly(keep: Keep, address: str, told: str) -> None:
    rig = build_rig(SMALL, PAPERS, "udp://127.0.0.1:0")
    file = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    async with (
        stored([rig], keep.spool, address, recorded=True),
        recorded([rig], keep.recordings, Limits(least_free=0)),
    ):
        rig.listen(_witness(rig, file))
        sender = Sender()
        for step in count():
            sim_s = step * 0.5
            values: dict[str, Value] = {
                "lights.beacon": "on" if step % 10 < 6 else "off",
                "hydraulics.1.pressure": 3000.0 if step % 14 < 9 else 1500.0,
                "flight.ground_speed": 2.0 if step > 60 else 0.0,
            }
            rig.session.take(sender.datagram(sim_s, values, push_approved=10.0), rig.run.clock())
            rig.run.tick()
            await asyncio.sleep(0)


def _witness(rig: Rig, file: int) -> Callable[[Told], None]:
    """Writes down findings and notices as they are told."""

    def heard(told: Told) -> None:
        match told:
            case FindingOpened(finding=found) | FindingChanged(finding=found):
                said = Heard(
                    rig.session.uuid, "finding", found.number, found.closed_s is not None, found.sentence
                )
            case Notice():
                said = Heard(rig.session.uuid, "notice", 0, closed=False, sentence=told.sentence)
            case _:
                return
        os.write(file, msgspec.json.encode(said) + b"\n")

    return heard
