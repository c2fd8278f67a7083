"""A keep folder with two sessions of the small pack: recorded, stored, with people in the seats.

Takes: a pack, a folder, an address.  Gives: `two_sessions`, and every byte that is kept.
"""

from __future__ import annotations

import re

from bridge.control import Request, Verb
from bridge.keep import Keep
from bridge.record.keeping import head_of
from bridge.record.recorder import Recorder
from bridge.record.rows import read_rows
from bridge.record.shelf import recordings
from bridge.record.writer import PART_BYTES, Limits
from bridge.rig import Rig, build_rig
from bridge.store.drain import Drain
from bridge.store.keeping import Kept
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.making import PAPERS, Sender
from tests.contract.until import Clock

BEGAN_UTC = 1_795_579_200.0
HERON = "Heron"


def two_sessions(pack: Pack, keep: Keep, address: str, *, who: str = HERON, part: int = PART_BYTES) -> None:
    """Heron and Plover fly the first session, Plover and Teal the second; Heron remarks on both."""
    keep.make()
    wall = Clock(BEGAN_UTC)
    rig = build_rig(pack, PAPERS, "udp://127.0.0.1:0", wall=wall)
    rig.run.clock = wall
    drain = Drain(keep.spool, address, clock=wall)
    kept = Kept(rig, keep.spool, drain, recorded=True)
    recorder = Recorder(
        keep.recordings, Limits(part=part, least_free=0), free=lambda _: 1 << 40, clock=wall, wall=wall
    )
    rig.attend(lambda session: recorder.begin(session, head_of(rig, session)))
    _fly(rig, wall, recorder, {"captain": who, "first_officer": "Plover"}, who)
    _ask(rig, "begin", f"Second of {who.lower()}")
    _fly(rig, wall, recorder, {"captain": "Plover", "first_officer": "Teal"}, who)
    recorder.finish()
    kept.close()
    drain.finish()
    assert drain.trouble == ""


def _fly(rig: Rig, wall: Clock, recorder: Recorder, crew: dict[str, str], name: str) -> None:
    sender = Sender()
    for seat, who in crew.items():
        _ask(rig, "seat", seat, who)
    for second in range(8):
        values: dict[str, Value] = {"lights.beacon": "off", "flight.ground_speed": 3.0 if second > 5 else 0.0}
        calls = {"push_approved": 2.0} if second >= 2 else {}
        rig.session.take(sender.datagram(float(second), values, **calls), wall())
        wall.now_s += 1.0
        recorder.work()
    _ask(rig, "remark", "", f"{name} was quick; {name.upper()}'s flow, not Herons'", name)
    _ask(rig, "remark", "", f"Plover helped {name}")
    _ask(rig, "call", name, by=name)
    _ask(rig, "excuse", "flow.before.documents", f"no papers\n{name}", name)


def _ask(rig: Rig, verb: Verb, name: str = "", reason: str = "", by: str = "instructor") -> None:
    rig.answer(Request(verb, name, by, reason))


def every_byte(keep: Keep) -> bytes:
    """All that stands in the folder, recordings unpacked."""
    plain = [path.read_bytes() for path in sorted(keep.folder.rglob("*")) if path.is_file()]
    unpacked = [
        row.data for kept in recordings(keep.recordings) for part in kept.parts for row in read_rows(part)
    ]
    return b"\n".join([*plain, *unpacked])


def every_word(name: str, keep: Keep) -> list[bytes]:
    """Where a name stands in any byte of the folder as a whole word."""
    return word_in(name, every_byte(keep))


def word_in(name: str, data: bytes) -> list[bytes]:
    """Where a name stands in data as a whole word."""
    return re.findall(rb"(?<!\w)" + re.escape(name.encode()) + rb"(?!\w)", data, re.IGNORECASE)
