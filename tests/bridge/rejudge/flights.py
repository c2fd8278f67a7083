"""Recordings of small flights, for the tests of judging afresh.

Takes: a pack and a folder.  Gives: `recorded`, the path of a recording in which a bit of everything happens.
"""

from __future__ import annotations

import random
from pathlib import Path

from bridge.record.shelf import recordings
from bridge.record.writer import Limits
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.record.making import ROOMY, Booth
from tests.bridge.record.test_again import HANDS


def everything(booth: Booth, seed: int = 7) -> None:
    """Sixty seconds with noise, silence, calls on the wire and by hand, pauses, a jump of the clock, amended papers."""
    chance = random.Random(seed)
    for step in range(600):
        if step in HANDS:
            booth.ask(*HANDS[step])
        sim_s = step * 0.1 if step < 400 else (step - 395) * 0.1
        values: dict[str, Value] = {
            "lights.beacon": "on" if step % 160 > 90 else chance.choice(["on", "off", "off"]),
            "hydraulics.1.pressure": chance.uniform(2000, 3500),
            "flight.ground_speed": 2.0 if step > 530 else 0.0,
        }
        if not 200 <= step < 280:
            booth.send(sim_s, values, **({"push_approved": 5.0} if 60 < step < 400 else {}))
        booth.wait(0.1)
        booth.recorder.work()


def recorded(pack: Pack, folder: Path, limits: Limits = ROOMY) -> Path:
    """A recording of `everything`."""
    folder.mkdir(exist_ok=True)
    booth = Booth(pack, folder, limits)
    everything(booth)
    booth.recorder.finish()
    return recordings(folder)[0].parts[0]
