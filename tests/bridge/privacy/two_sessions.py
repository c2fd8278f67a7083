"""A keep folder with two sessions of the small pack: recorded, stored, with people in the seats.

Takes: a pack, a folder, an address.  Gives: `two_sessions`, and every byte that is kept.
"""

from __future__ import annotations

import re

from bridge.recording.device_recording import make_head
from bridge.recording.mcap_messages import read_messages
from bridge.recording.recorder import Recorder
from bridge.recording.retention import list_recordings
from bridge.recording.writer import DEFAULT_PART_BYTES, RecordingLimits
from bridge.runtime.data_dir import DataDir
from bridge.runtime.device import Device, build_device
from bridge.session.requests import Request, Verb
from bridge.store.session_store import SessionStore
from bridge.store.store_writer import StoreWriter
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, FrameSender
from tests.contract.waiting import ManualClock

BEGAN_UTC = 1_795_579_200.0
HERON = "Heron"


def record_two_sessions(
    pack: Pack, keep: DataDir, address: str, *, who: str = HERON, part: int = DEFAULT_PART_BYTES
) -> None:
    """Heron and Plover fly the first session, Plover and Teal the second; Heron remarks on both."""
    keep.create()
    wall = ManualClock(BEGAN_UTC)
    rig = build_device(pack, TRIP, "udp://127.0.0.1:0", wall_clock=wall)
    rig.runner.clock = wall
    drain = StoreWriter(keep.spool, address, clock=wall)
    kept = SessionStore(rig, keep.spool, drain, recorded=True)
    recorder = Recorder(
        keep.recordings,
        RecordingLimits(part_bytes=part, min_free_bytes=0),
        free_bytes=lambda _: 1 << 40,
        clock=wall,
        wall_clock=wall,
    )
    rig.on_each_session(lambda session: recorder.start_session(session, make_head(rig, session)))
    _fly(rig, wall, recorder, {"captain": who, "first_officer": "Plover"}, who)
    _ask(rig, "start_session", f"Second of {who.lower()}")
    _fly(rig, wall, recorder, {"captain": "Plover", "first_officer": "Teal"}, who)
    recorder.finish()
    kept.close()
    drain.finish()
    assert drain.trouble == ""


def _fly(rig: Device, wall: ManualClock, recorder: Recorder, crew: dict[str, str], name: str) -> None:
    sender = FrameSender()
    for seat, who in crew.items():
        _ask(rig, "assign_seat", seat, who)
    for second in range(8):
        values: dict[str, Value] = {"lights.beacon": "off", "flight.ground_speed": 3.0 if second > 5 else 0.0}
        calls = {"push_approved": 2.0} if second >= 2 else {}
        rig.session.receive(sender.datagram(float(second), values, **calls), wall())
        wall.now_s += 1.0
        recorder.write_queued()
    _ask(rig, "remark", "", f"{name} was quick; {name.upper()}'s flow, not Herons'", name)
    _ask(rig, "remark", "", f"Plover helped {name}")
    _ask(rig, "call", name, by=name)
    _ask(rig, "waive", "flow.before.documents", f"no papers\n{name}", name)


def _ask(rig: Device, verb: Verb, name: str = "", reason: str = "", by: str = "instructor") -> None:
    rig.handle(Request(verb, name, by, reason))


def every_byte(keep: DataDir) -> bytes:
    """All that stands in the folder, recordings unpacked."""
    plain = [path.read_bytes() for path in sorted(keep.folder.rglob("*")) if path.is_file()]
    unpacked = [
        row.data
        for kept in list_recordings(keep.recordings)
        for part in kept.parts
        for row in read_messages(part)
    ]
    return b"\n".join([*plain, *unpacked])


def find_name(name: str, keep: DataDir) -> list[bytes]:
    """Where a name stands in any byte of the folder as a whole word."""
    return find_word(name, every_byte(keep))


def find_word(name: str, data: bytes) -> list[bytes]:
    """Where a name stands in data as a whole word."""
    return re.findall(rb"(?<!\w)" + re.escape(name.encode()) + rb"(?!\w)", data, re.IGNORECASE)
