"""Tests of judging again: the same pack gives what was told live, to the byte."""

from __future__ import annotations

import asyncio
import random
import socket
from collections import Counter
from pathlib import Path

from adapters.links.udp import UdpLink
from bridge.recording.file_format import encode_message
from bridge.recording.reader import open_recording
from bridge.recording.replay_judge import replay_events
from bridge.recording.writer import RecordingLimits
from bridge.runtime.control import Request, Verb
from bridge.session.session_events import RemarkAdded
from bridge.session.session_input import ClockTick
from mock_sim.send.network_faults import FaultInjector, NetworkFaults
from rules.judge.events import CallUndone, FindingOpened, MonitorsReset, TripUpdated
from rules.packs.model import Pack
from rules.signals.model import Frame, Value
from tests.bridge.recording.builders import RecordedDevice, event_messages_of
from tests.contract.waiting import wait_until

BAD = NetworkFaults(
    loss=0.1, duplicate=0.1, reorder=0.1, corrupt=0.1, truncate=0.1, garbage=0.1, jitter_s=0.3
)


def compare(booth: RecordedDevice) -> None:
    """What was told, what was recorded, and what the inputs bring about again are the same bytes."""
    booth.recorder.finish()
    recording = booth.read()
    recorded = event_messages_of(list(recording.items()))
    assert recording.fault is None
    assert recorded == booth.event_messages()
    assert [encode_message(told) for told in replay_events(recording, booth.pack)] == recorded
    assert len(recorded) > 10


async def test_a_flight_over_a_bad_network_is_judged_again_to_the_byte(pack: Pack, tmp_path: Path) -> None:
    """Over UDP with loss and mischief, with calls on the wire and by hand, a pause, a jump of the clock and silence."""
    booth = RecordedDevice(pack, tmp_path)
    spoiler, chance = FaultInjector(BAD, 7), random.Random(7)
    link = UdpLink(clock=booth.clock)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            receiving = asyncio.create_task(_receive(booth, link))
            for step in range(600):
                sim_s = step * 0.1 if step < 400 else (step - 395) * 0.1
                if 200 <= step < 280:  # silence
                    _request_at(booth, step)
                    booth.wait(0.1)
                    continue
                values: dict[str, Value] = {
                    "lights.beacon": chance.choice(["on", "off"]),
                    "hydraulics.1.pressure": chance.uniform(2000, 3500),
                    "flight.ground_speed": 2.0 if step % 100 > 90 else 0.0,
                }
                calls = {"push_approved": 5.0} if 60 < step < 400 else {}
                spoiler.add(booth.clock(), booth.sender.datagram(sim_s, values, **calls))
                for _, data in spoiler.due(booth.clock()):
                    await _deliver(booth, link, sender, data)
                _request_at(booth, step)
                booth.wait(0.1)
            link.stop()
            await receiving
    compare(booth)
    what = Counter(type(line.content) for line in booth.items())
    assert {
        Frame,
        ClockTick,
        Request,
        MonitorsReset,
        CallUndone,
        TripUpdated,
        FindingOpened,
        RemarkAdded,
    } <= set(what)
    assert what[Request] == len(REQUESTS_AT_STEP)


REQUESTS_AT_STEP: dict[int, tuple[Verb, str, str]] = {
    30: ("call", "push_approved", ""),
    33: ("retract", "push_approved", ""),
    50: ("confirm", "flow.before.documents", ""),
    90: ("pause", "", ""),
    110: ("resume", "", ""),
    150: ("excuse", "flow.before.pressure", "pump out of service"),
    240: ("remark", "", "nothing arrives"),
    250: ("amend", "sheet", "trip: {title: New, values: {v1: 128 kt}}"),
    260: ("call", "push_aproved", ""),
    320: ("pause", "", ""),
    340: ("resume", "", ""),
    500: ("seat", "captain", "Pilot 7"),
}
"""What people do meanwhile, by the step; some of it is refused."""


def _request_at(booth: RecordedDevice, step: int) -> None:
    """Do what is due at this step."""
    if step in REQUESTS_AT_STEP:
        booth.request(*REQUESTS_AT_STEP[step])


async def _receive(booth: RecordedDevice, link: UdpLink) -> None:
    async for datagram in link:
        booth.device.session.receive(datagram.data, datagram.recv_s)


async def _deliver(booth: RecordedDevice, link: UdpLink, sender: socket.socket, data: bytes) -> None:
    """Send one datagram and let it be judged before time goes on."""
    health = booth.device.session.receiver.health
    seen = health.datagrams
    sender.sendto(data, ("127.0.0.1", link.port))
    await wait_until(lambda: health.datagrams > seen)


def test_the_wall_clock_may_be_set_back(pack: Pack, tmp_path: Path) -> None:
    """A clock that is set back an hour in the middle changes neither the order nor what is told."""
    booth = RecordedDevice(pack, tmp_path)
    booth.fly(5)
    booth.request("call", "push_approved")
    booth.wall.now_s -= 3600
    booth.request("retract", "push_approved")
    booth.fly(5, since_s=5)
    booth.request("remark", reason="the clock is right now")
    compare(booth)


def test_parts_are_one_recording(pack: Pack, tmp_path: Path) -> None:
    """A session that fills several files is judged again as one, whatever the sizes."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    booth.send(0.0, push_approved=0.0)
    booth.fly(60, since_s=1)
    assert len(booth.read().paths) > 3
    compare(booth)


def test_a_later_part_alone_goes_on_from_how_all_stood(pack: Pack, tmp_path: Path) -> None:
    """Judging from a later part knows at once what does not change any more, the calls, and what was excused."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    booth.send(0.0)
    booth.request("call", "push_approved")
    booth.request("excuse", "flow.before.pressure", "pump out of service")
    booth.fly(60, since_s=1)
    booth.recorder.finish()
    later = open_recording(booth.read().paths[2])
    assert later.head.part == 3
    told = [encode_message(each) for each in replay_events(later, booth.pack)]
    assert any(b'"call":"push_approved"' in each for each in told)
    assert any(b'"status":"waived"' in each for each in told)
    assert told[-3:] == booth.event_messages()[-3:]
