"""Estimates: loading, faults with their places, and what they decide where signals are missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.judge.events import GateEntered, JudgeEvent, PhaseEntered
from rules.judge.judge import Judge
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_faults, load_text

ESTIMATES = """\
estimates:
  in_air:
    label: the aeroplane is in the air
    from:
      - is: flight.on_ground is no
      - {yes: flight.airspeed > 200 kt, no: flight.ground_speed < 40 kt for 5 s}
  height:
    label: height
    unit: ft
    from:
      - value: flight.height
      - {value: flight.altitude - trip.field_elevation, doubt: 300 ft, while: flight.airspeed > 60 kt}
      - {least: flight.altitude - 15000 ft, most: flight.altitude + 1500 ft}
"""
LINE = COMPLETE_PACK.count("\n")
ENTRY = "entry: flight.ground_speed > 1 kt"
AGES_S = 10.0


def pack_with(tmp_path: Path, entry: str) -> Pack:
    """Pack whose gate has this entry."""
    return load_text(tmp_path, COMPLETE_PACK.replace(ENTRY, f"entry: {entry}") + ESTIMATES)


class Flight:
    """Judge that is given some signals; all others are absent, and old ones stale."""

    def __init__(self, pack: Pack, trip: dict[str, Value] | None = None) -> None:
        self.judge = Judge(pack, TripSheet("A flight", trip or {}))
        self.at_s = 0.0

    def receive(self, **values: Value) -> list[JudgeEvent]:
        """Receive these signals of `flight.` for 10 s, each second."""
        found: list[JudgeEvent] = []
        for _ in range(int(AGES_S)):
            self.at_s += 1.0
            samples = [
                Sample(f"flight.{name}", value, Quality.FRESH, self.at_s) for name, value in values.items()
            ]
            names = tuple(sample.name for sample in samples)
            found += self.judge.judge_frame(Frame("x", self.at_s, self.at_s, 0, names, samples))
        return found

    @property
    def phase(self) -> str:
        """Present phase."""
        return self.judge.snapshot().phase


@pytest.mark.parametrize(
    ("entry", "values", "entered"),
    [
        ("estimate.in_air is yes", {"on_ground": "no"}, True),
        ("estimate.in_air is yes", {"airspeed": 250.0}, True),
        (
            "estimate.in_air is yes",
            {"on_ground": "yes", "airspeed": 250.0},
            False,
        ),  # what is received decides
        ("estimate.in_air is yes", {"airspeed": 150.0}, False),  # neither is shown
        ("estimate.in_air is no", {"airspeed": 150.0}, False),
        ("estimate.in_air is not yes", {"airspeed": 150.0}, False),
        ("estimate.in_air is no", {"ground_speed": 20.0}, True),
        ("estimate.in_air is not no", {"ground_speed": 20.0}, False),
        ("estimate.in_air is no", {"ground_speed": 20.0, "airspeed": 250.0}, False),  # both are shown
        ("estimate.height > 1000 ft", {"height": 1100.0}, True),
        ("estimate.height > 1000 ft", {"altitude": 1400.0, "airspeed": 90.0}, True),
        ("estimate.height > 1000 ft", {"altitude": 1400.0}, False),  # its source does not count
        ("estimate.height > 1000 ft", {"altitude": 1200.0, "airspeed": 90.0}, False),  # within the doubt
        ("estimate.height < 1000 ft", {"altitude": 1200.0, "airspeed": 90.0}, False),
        ("estimate.height <= 1000 ft", {"altitude": 600.0, "airspeed": 90.0}, True),
        ("estimate.height >= 1000 ft", {"altitude": 16100.0}, True),  # above the highest field
        ("estimate.height in 0..2000 ft", {"altitude": 1000.0, "airspeed": 90.0}, True),
        ("estimate.height in 0..1200 ft", {"altitude": 1000.0, "airspeed": 90.0}, False),
        ("estimate.height within 500 ft of 1100 ft", {"altitude": 1000.0, "airspeed": 90.0}, True),
        ("estimate.height within 500 ft of 1100 ft", {"height": 1601.0}, False),
        ("not estimate.height in 0..1000 ft", {"altitude": 1400.0, "airspeed": 90.0}, True),
    ],
)
def test_a_claim_is_true_where_a_source_shows_it(
    tmp_path: Path, entry: str, values: dict[str, Value], entered: bool
) -> None:
    """The first source that shows yes or no decides; where none does, nothing is entered."""
    flight = Flight(pack_with(tmp_path, entry), {"trip.field_elevation": 0.0})
    events = flight.receive(**values)
    assert (flight.phase == "push_back") is entered
    assert not any(isinstance(event, GateEntered) for event in events)  # recognised, not judged


def test_a_gate_that_was_seen_shut_by_an_estimate_is_judged(tmp_path: Path) -> None:
    """What was shown false and then true was seen to happen."""
    flight = Flight(pack_with(tmp_path, "estimate.in_air is yes"))
    flight.receive(ground_speed=10.0)
    events = flight.receive(ground_speed=250.0, airspeed=250.0)
    assert [type(event) for event in events if isinstance(event, GateEntered | PhaseEntered)] == [
        GateEntered,
        PhaseEntered,
    ]


def test_a_signal_that_is_lost_is_replaced_and_comes_back(tmp_path: Path) -> None:
    """A stale signal decides nothing; received again, it decides."""
    flight = Flight(pack_with(tmp_path, "estimate.in_air is yes"))
    flight.receive(on_ground="yes", airspeed=250.0)
    assert flight.phase == "preflight"
    flight.receive(airspeed=250.0)
    assert flight.phase == "push_back"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (
            "lights.beacon is on\n        hold",
            "if estimate.in_air is yes then lights.beacon is on\n        hold",
        ),
        ("fuel.pump.*.switch is on", "estimate.in_air is yes"),
        ("after: call.push_approved happened", "after: estimate.in_air is yes"),
        (
            "expect: fuel.total within 150 kg of trip.block_fuel",
            "expect: fuel.total > 5 kg or estimate.height > 5 ft",
        ),
    ],
)
def test_no_estimate_makes_an_item_met(tmp_path: Path, old: str, new: str) -> None:
    """Items, their `after`, and lines of checklists name no estimate."""
    assert old in COMPLETE_PACK
    pack = load_text(tmp_path, COMPLETE_PACK.replace(old, new, 1) + ESTIMATES)
    assert "an estimate never shows that an item is met" in [fault.what for fault in pack.faults]


@pytest.mark.parametrize(
    ("entry", "what"),
    [
        ("estimate.in_air > 5 ft", "estimate.in_air is yes or no"),
        ("estimate.in_air is up", "unknown word up"),
        ("estimate.height is yes", "estimate.height is a number"),
        ("estimate.height = 5 ft", "an estimate is never known to be `=`"),
        ("estimate.height > 5 kg", "estimate.height: kg does not convert to ft"),
        ("flight.height > estimate.height", "estimate.height is an estimate"),
        ("highest(estimate.height, 5 s) > 5 ft", "estimate.height is an estimate"),
        ("estimate.in_air became yes", "an estimate has no moment, so it is no event"),
        ("(estimate.height > 5 ft) became true", "an estimate has no moment, so it is no event"),
        ("estimate.hight > 5 ft", "unknown name estimate.hight"),
    ],
)
def test_each_wrong_use_is_a_fault(tmp_path: Path, entry: str, what: str) -> None:
    """A condition that uses an estimate wrongly is unknown, and its fault is listed."""
    assert what in [fault.what for fault in pack_with(tmp_path, entry).faults]


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("is: flight.on_ground is no", "is: flight.on_grund is no", "5:13: unknown name flight.on_grund"),
        ("is: flight.on_ground is no", "is: flight.on_ground", "5:28: the condition ends too early"),
        ("is: flight.on_ground is no", "doubt: 5 ft", "5:9: the keys of this source do not go together"),
        ("is: flight.on_ground is no", "value: flight.height", "2:3: some sources give yes or no"),
        ("doubt: 300 ft", "doubt: 300 kg", "12:64: kg does not convert to ft"),
        ("doubt: 300 ft", "doubt: 300", "12:64: a number without a unit"),
        ("    unit: ft\n", "", "7:3: a number without a unit"),
        ("unit: ft", "unit: fet", "9:11: unknown unit fet"),
        ("    from:\n      - is:", "    unit: ft\n    from:\n      - is:", "4:11: yes or no has no unit"),
        ("is: flight.on_ground is no", "is: estimate.in_air is no", "5:13: circular reference of estimates"),
        ("label: height", "labl: height", "8:5: "),
    ],
)
def test_each_mistake_has_its_place(tmp_path: Path, old: str, new: str, fault: str) -> None:
    """A faulty estimate refuses the pack, at its line and column."""
    line, rest = fault.split(":", 1)
    found = load_faults(tmp_path, COMPLETE_PACK + ESTIMATES.replace(old, new, 1))
    assert any(one.startswith(f"{LINE + int(line)}:{rest}") for one in found), found
