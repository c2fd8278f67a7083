"""Makes a data directory with two sessions of the small pack: recorded, stored, with persons in the seats.

Takes: a pack, a folder, an address.  Gives: `record_two_sessions`, and a search in all bytes of the directory.
"""

from __future__ import annotations

import re

from bridge.recording.device_recording import make_head
from bridge.recording.mcap_messages import read_messages
from bridge.recording.recorder import Recorder
from bridge.recording.recording_budget import list_recordings
from bridge.recording.writer import DEFAULT_PART_BYTES, RecordingLimits
from bridge.runtime.data_dir import DataDir
from bridge.runtime.device import Device, build_device
from bridge.session.request_handlers import handle_request
from bridge.session.requests import Request, Verb
from bridge.store.session_store import SessionStore
from bridge.store.store_writer import StoreWriter
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import TRIP, FrameSender, feed
from tests.contract.waiting import ManualClock

BEGAN_UTC = 1_795_579_200.0
HERON = "Heron"


def record_two_sessions(
    pack: Pack, data_dir: DataDir, address: str, *, pseudonym: str = HERON, part: int = DEFAULT_PART_BYTES
) -> None:
    """Heron and Plover fly the first session, Plover and Teal the second; Heron writes remarks in both.

    In each of them data are missing from 7.2 to 8.0 s.
    """
    data_dir.create()
    wall = ManualClock(BEGAN_UTC)
    device = build_device(pack, TRIP, "udp://127.0.0.1:0", wall_clock=wall)
    device.source.clock = wall
    writer = StoreWriter(data_dir.spool, address, clock=wall)
    session_store = SessionStore(device, data_dir.spool, writer, recorded=True)
    recorder = Recorder(
        data_dir.recordings,
        RecordingLimits(part_bytes=part, min_free_bytes=0),
        free_bytes=lambda _: 1 << 40,
        clock=wall,
        wall_clock=wall,
    )
    device.on_each_session(
        lambda created: recorder.start_session(created.session, make_head(device, created.session))
    )
    _fly(device, wall, recorder, {"captain": pseudonym, "first_officer": "Plover"}, pseudonym)
    _request(device, "start_session", f"Second of {pseudonym.lower()}")
    _fly(device, wall, recorder, {"captain": "Plover", "first_officer": "Teal"}, pseudonym)
    recorder.finish()
    session_store.close()
    writer.finish()
    assert writer.problem == ""


def _fly(device: Device, wall: ManualClock, recorder: Recorder, crew: dict[str, str], name: str) -> None:
    sender = FrameSender()
    for seat, pseudonym in crew.items():
        _request(device, "assign_seat", seat, pseudonym)
    for second in range(8):
        values: dict[str, Value] = {"lights.beacon": "off", "flight.ground_speed": 3.0 if second > 5 else 0.0}
        calls = {"push_approved": 2.0} if second >= 2 else {}
        feed(device, sender.datagram(float(second), values, **calls), wall())
        wall.now_s += 1.0
        recorder.write_queued()
    sender.lose(4)
    feed(device, sender.datagram(8.0, values, **calls), wall())
    _request(device, "remark", "", f"Plover helped {name}")
    for request in (
        Request("remark", "", name, f"{name} was quick; {name.upper()}'s flow, not Herons'"),
        Request("call", name, name),
        Request("waive", "flow.before.documents", name, f"no papers\n{name}"),
        Request("undo_waiver", "flow.before.documents", name, f"{name} found them"),
        Request("waive", "flow.before.documents", "instructor", f"lost again, says {name}"),
    ):
        handle_request(device.session, request)  # a device would ask for a seat or a role


def _request(device: Device, verb: Verb, name: str = "", reason: str = "", by: str = "instructor") -> None:
    device.handle(Request(verb, name, by, reason))


def every_byte(data_dir: DataDir) -> bytes:
    """Return all bytes of the directory, with recordings decompressed."""
    plain = [path.read_bytes() for path in sorted(data_dir.folder.rglob("*")) if path.is_file()]
    decompressed = [
        row.data
        for session_store in list_recordings(data_dir.recordings)
        for part in session_store.parts
        for row in read_messages(part)
    ]
    return b"\n".join([*plain, *decompressed])


def find_name(name: str, data_dir: DataDir) -> list[bytes]:
    """Find a name as a whole word in all bytes of the directory."""
    return find_word(name, every_byte(data_dir))


def find_word(name: str, data: bytes) -> list[bytes]:
    """Find a name as a whole word in data."""
    return re.findall(rb"(?<!\w)" + re.escape(name.encode()) + rb"(?!\w)", data, re.IGNORECASE)
