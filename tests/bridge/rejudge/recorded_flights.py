"""Records small flights for the tests of rejudging.

Takes: a pack and a folder.  Gives: `record_everything`, the path of a recording with all kinds of inputs.
"""

from __future__ import annotations

import random
from pathlib import Path

from bridge.recording.recording_budget import list_recordings
from bridge.recording.writer import RecordingLimits
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.recording.builders import NO_FREE_SPACE_LIMIT, RecordedDevice
from tests.bridge.recording.test_replay_judge import REQUESTS_AT_STEP


def fly_everything(recorded_device: RecordedDevice, seed: int = 7) -> None:
    """Fly sixty seconds with noise, silence, lost records, calls, pauses, a clock reset and an amended trip sheet."""
    generator = random.Random(seed)
    for step in range(600):
        if step in REQUESTS_AT_STEP:
            recorded_device.request(*REQUESTS_AT_STEP[step])
        sim_s = step * 0.1 if step < 400 else (step - 395) * 0.1
        values: dict[str, Value] = {
            "lights.beacon": "on" if step % 160 > 90 else generator.choice(["on", "off", "off"]),
            "hydraulics.1.pressure": generator.uniform(2000, 3500),
            "flight.ground_speed": 2.0 if step > 530 else 0.0,
        }
        if 440 <= step < 458:
            recorded_device.sender.datagram(sim_s, values)
        elif not 200 <= step < 280:
            recorded_device.send(sim_s, values, **({"push_approved": 5.0} if 60 < step < 400 else {}))
        recorded_device.wait(0.1)
        recorded_device.recorder.write_queued()


def record_everything(pack: Pack, folder: Path, limits: RecordingLimits = NO_FREE_SPACE_LIMIT) -> Path:
    """Record `fly_everything`."""
    folder.mkdir(exist_ok=True)
    recorded = RecordedDevice(pack, folder, limits)
    fly_everything(recorded)
    recorded.recorder.finish()
    return list_recordings(folder)[0].parts[0]
