"""Tests of replay: the same pack publishes the same events to the byte."""

from __future__ import annotations

import asyncio
import random
import socket
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from adapters.links.udp import UdpLink
from bridge.recording.file_format import KEYFRAME, FramesLost, RecordingKeyframe, encode_message
from bridge.recording.gap_filter import GapFilter
from bridge.recording.mcap_messages import McapMessage
from bridge.recording.reader import Recording, open_recording
from bridge.recording.replay_judge import replay_events
from bridge.recording.writer import RecordingLimits
from bridge.session.requests import Request, Verb
from bridge.session.session_events import RemarkAdded
from bridge.session.session_input import ClockTick
from mock_sim.send.network_faults import FaultInjector, NetworkFaults
from rules.judge.events import (
    CallUndone,
    FindingOpened,
    ItemStatus,
    MonitorsReset,
    TripUpdated,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import Pack
from rules.signals.model import Frame, Value
from tests.bridge.builders import feed
from tests.bridge.recording.builders import RecordedDevice, event_messages_of
from tests.contract.waiting import wait_until

BAD = NetworkFaults(
    loss=0.1, duplicate=0.1, reorder=0.1, corrupt=0.1, truncate=0.1, garbage=0.1, jitter_s=0.3
)


def compare(recorded: RecordedDevice) -> None:
    """Check that published, recorded and replayed events are the same bytes."""
    recorded.recorder.finish()
    recording = recorded.read()
    messages = event_messages_of(list(recording.items()))
    assert recording.fault is None
    assert messages == recorded.event_messages()
    assert [encode_message(event) for event in replay_events(recording, recorded.pack)] == messages
    assert len(messages) > 10


async def test_a_flight_over_a_bad_network_is_replayed(pack: Pack, tmp_path: Path) -> None:
    """Over UDP with network faults, calls by wire and by hand, a pause, a clock reset and silence."""
    recorded = RecordedDevice(pack, tmp_path)
    network_faults, generator = FaultInjector(BAD, 7), random.Random(7)
    link = UdpLink(clock=recorded.clock)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            receiving = asyncio.create_task(_receive(recorded, link))
            for step in range(600):
                sim_s = step * 0.1 if step < 400 else (step - 395) * 0.1
                if 200 <= step < 280:  # silence
                    _request_at(recorded, step)
                    recorded.wait(0.1)
                    continue
                values: dict[str, Value] = {
                    "lights.beacon": generator.choice(["on", "off"]),
                    "hydraulics.1.pressure": generator.uniform(2000, 3500),
                    "flight.ground_speed": 2.0 if step % 100 > 90 else 0.0,
                }
                calls = {"push_approved": 5.0} if 60 < step < 400 else {}
                network_faults.add(recorded.clock(), recorded.sender.datagram(sim_s, values, **calls))
                for _, data in network_faults.due(recorded.clock()):
                    await _deliver(recorded, link, sender, data)
                _request_at(recorded, step)
                recorded.wait(0.1)
            link.stop()
            await receiving
    compare(recorded)
    kinds = Counter(type(item.content) for item in recorded.items())
    assert {
        Frame,
        ClockTick,
        Request,
        MonitorsReset,
        CallUndone,
        TripUpdated,
        WaiverBegun,
        WaiverUndone,
        FindingOpened,
        RemarkAdded,
    } <= set(kinds)
    assert kinds[Request] == len(REQUESTS_AT_STEP)


REQUESTS_AT_STEP: dict[int, tuple[Verb, str, str]] = {
    30: ("call", "push_approved", ""),
    33: ("undo_call", "push_approved", ""),
    50: ("confirm", "flow.before.documents", ""),
    90: ("pause", "", ""),
    110: ("resume", "", ""),
    150: ("waive", "flow.before.pressure", "pump out of service"),
    200: ("undo_waiver", "flow.before.pressure", "pump in service again"),
    220: ("waive", "flow.before.pressure", "pump out of service again"),
    240: ("remark", "", "nothing arrives"),
    250: ("amend", "sheet", "trip: {title: New, values: {v1: 128 kt}}"),
    260: ("call", "push_aproved", ""),
    320: ("pause", "", ""),
    340: ("resume", "", ""),
    500: ("assign_seat", "captain", "Pilot 7"),
}
"""The requests by step; some of them are refused."""


def _request_at(recorded: RecordedDevice, step: int) -> None:
    """Make the request that is due at this step."""
    if step in REQUESTS_AT_STEP:
        recorded.request(*REQUESTS_AT_STEP[step])


async def _receive(recorded: RecordedDevice, link: UdpLink) -> None:
    async for datagram in link:
        feed(recorded.device, datagram.data, datagram.recv_s)


async def _deliver(recorded: RecordedDevice, link: UdpLink, sender: socket.socket, data: bytes) -> None:
    """Send one datagram and wait until it is judged."""
    health = recorded.device.source.health
    seen = health.datagrams
    sender.sendto(data, ("127.0.0.1", link.port))
    await wait_until(lambda: health.datagrams > seen)


def test_a_wall_clock_that_is_set_back(pack: Pack, tmp_path: Path) -> None:
    """A wall clock that is set back an hour changes neither order nor events."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(5)
    recorded.request("call", "push_approved")
    recorded.wall.now_s -= 3600
    recorded.request("undo_call", "push_approved")
    recorded.fly(5, since_s=5)
    recorded.request("remark", reason="the clock is right now")
    compare(recorded)


def test_parts_are_one_recording(pack: Pack, tmp_path: Path) -> None:
    """A session in several files is judged again as one, whatever their sizes."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    recorded.send(0.0, push_approved=0.0)
    recorded.fly(60, since_s=1)
    assert len(recorded.read().paths) > 3
    compare(recorded)


def test_a_later_part_starts_with_the_complete_state(pack: Pack, tmp_path: Path) -> None:
    """A later part alone starts with the complete state: constant values, calls and waivers."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    recorded.send(0.0)
    recorded.request("call", "push_approved")
    recorded.request("waive", "flow.before.pressure", "pump out of service")
    recorded.request("waive", "flow.before.beacon", "lamp out of service")
    recorded.request("undo_waiver", "flow.before.beacon", "lamp replaced")
    recorded.fly(60, since_s=1)
    recorded.recorder.finish()
    later = open_recording(recorded.read().paths[2])
    assert later.head.part == 3
    events = [encode_message(each) for each in replay_events(later, recorded.pack)]
    assert any(b'"call":"push_approved"' in each for each in events)
    verdicts = [e for e in replay_events(later, recorded.pack) if isinstance(e, VerdictChanged)]
    last = {verdict.item: verdict.status for verdict in verdicts}
    assert last["flow.before.pressure"] is ItemStatus.WAIVED
    assert last["flow.before.beacon"] is not ItemStatus.WAIVED
    assert events[-3:] == recorded.event_messages()[-3:]


def test_replayed_items_begin_with_the_state_where_earlier_parts_are_missing(
    pack: Pack, tmp_path: Path
) -> None:
    """From a later part the first keyframe is a frame with its calls, then follow the requests; later keyframes are dropped."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    recorded.send(0.0)
    recorded.request("call", "push_approved")
    recorded.request("waive", "flow.before.pressure", "pump out of service")
    recorded.fly(60, since_s=1)
    recorded.recorder.finish()
    whole, later = recorded.read(), open_recording(recorded.read().paths[2])
    contents = [item.content for item in later.replay_items()]
    assert isinstance(contents[0], Frame)
    assert list(contents[0].calls) == ["push_approved"]
    assert isinstance(contents[1], Request)
    assert contents[1].verb == "waive"
    assert not [each for each in contents[2:] if isinstance(each, Frame)]
    assert not [item for item in whole.replay_items() if isinstance(item.content, Frame)]
    assert sum(isinstance(item.content, RecordingKeyframe) for item in whole.items()) > 3


def test_only_a_keyframe_after_lost_frames_is_used() -> None:
    """Lost ticks are no gap; a gap is closed by its first keyframe."""
    gaps = GapFilter()
    gaps.add_loss(FramesLost(0, 4, 0.0, 0.0))
    assert gaps.fill() == (False, None, None)
    gaps.add_loss(FramesLost(3, 0, 0.0, 5.0, 4.0))
    gaps.add_loss(FramesLost(2, 1, 0.0, 8.0, 7.0))
    assert [gaps.fill(), gaps.fill()] == [(True, 4.0, 4), (False, None, None)]
    assert GapFilter(frames_missing=True).fill() == (True, None, None)


def test_a_keyframe_that_cannot_be_read_is_the_end(pack: Pack, tmp_path: Path) -> None:
    """Where a keyframe is needed and cannot be decoded, the recording ends with a fault; elsewhere it is not decoded."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    recorded.fly(60)
    recorded.recorder.finish()

    class Damaged(Recording):
        def messages(self) -> Iterator[McapMessage]:
            for message in super().messages():
                yield message._replace(data=b"{") if message.topic == KEYFRAME else message

    whole, later = recorded.read(), open_recording(recorded.read().paths[1])
    first = Damaged(whole.head, whole.paths)
    assert list(first.replay_items()) == list(whole.replay_items())
    assert first.fault is None
    second = Damaged(later.head, later.paths)
    assert list(second.replay_items()) == []
    assert second.fault is not None
    assert "of /keyframe cannot be read" in second.fault.what
