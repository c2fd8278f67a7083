"""A table in steps gives one rule for the speed limit of every flap setting."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.judge.judge import Judge
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample

PACK = """\
pack: {id: small, title: Small, signals: [twin_jet, trip]}
seats: {captain: Captain}
phases: {cruise: {title: Cruise, code: ENR}, landing: {title: Landing, code: LDG}}
tables:
  flap_speed: {label: flap speed limit, x: deg, gives: kt, steps: [[0, 280], [0.8, 230], [8.5, 210]]}
figures:
  flap_speed:
    label: "speed limit of flaps {controls.flap.position}"
    uses: table.flap_speed
    with: {x: controls.flap.position}
    unit: kt
flows:
  speeds: {title: Speeds, phase: cruise, captain: [{speed: flight.airspeed <= figure.flap_speed}]}
gates:
  landing: {phase: landing, cue: flight.pitch > 9 deg, entry: flight.on_ground is yes, needs: [flow speeds]}
"""


@pytest.mark.parametrize(
    ("flap", "speed", "sentence"),
    [
        (0.0, 270.0, "airspeed 270 kt"),
        (
            0.5,
            281.0,
            "airspeed 281 kt, needs at most 280 kt (speed limit of flaps 0.5 deg: for flaps 0.5 deg)",
        ),
        (8.0, 231.0, "airspeed 231 kt, needs at most 230 kt (speed limit of flaps 8 deg: for flaps 8 deg)"),
        (
            8.5,
            211.0,
            "airspeed 211 kt, needs at most 210 kt (speed limit of flaps 8.5 deg: for flaps 8.5 deg)",
        ),
        (
            36.0,
            211.0,
            "airspeed 211 kt, needs at most 210 kt (speed limit of flaps 36 deg: for flaps 36 deg)",
        ),
    ],
)
def test_one_rule_for_all_flaps(tmp_path: Path, flap: float, speed: float, sentence: str) -> None:
    """The airspeed is compared with the limit of the flaps that are shown, without a slope between the steps."""
    path = tmp_path / "small.yaml"
    path.write_text(PACK, "utf-8")
    judge = Judge(load_pack(str(path)), TripSheet("", {}))
    values = {"controls.flap.position": flap, "flight.airspeed": speed}
    samples = [Sample(name, value, Quality.FRESH, 1.0) for name, value in values.items()]
    judge.judge_frame(Frame("test", 1.0, 1.0, 0, tuple(values), samples))
    assert judge.explained_snapshot().items["flow.speeds.speed"].sentence == sentence
