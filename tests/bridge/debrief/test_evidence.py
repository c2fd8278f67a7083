"""Tests of the limits of a condition, and of the window and the signals of evidence."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.evidence import MAX_SERIES, evidence_for, limits_of
from bridge.debrief.signal_samples import Samples
from bridge.debrief.time_axis import TimeAxis
from bridge.rejudge.load_input_log import LoadedInputLog
from rules.judge.events import Finding
from rules.packs.load_pack import load_pack
from rules.packs.model import FindingKind, Level, Pack
from rules.signals.model import Frame, Quality, Sample, Value
from tests.bridge.builders import PACK, TRIP, write_pack

PRESSURE = "hydraulics.1.pressure"
FOUND = Finding(
    1, FindingKind.WRONG_VALUE, "flow.before.pressure", "Pressure", "push", "stand", "captain", Level.CAUTION, 100.0,
    "", "", "",
)  # fmt: skip
ROWS: dict[str, dict[str, list[float]]] = {
    f"{PRESSURE} in 2800..3200 psi": {PRESSURE: [2800.0, 3200.0]},
    f"{PRESSURE} > 200 bar": {PRESSURE: [2900.7548]},
    "flight.airspeed >= trip.v1 - 3 kt": {"flight.airspeed": [125.0]},
    "speeds.v1.captain within 2 kt of trip.v1": {"speeds.v1.captain": [126.0, 130.0]},
    f"{PRESSURE} > 2800 psi and lights.beacon is on and flight.ground_speed < 1 kt": {
        PRESSURE: [2800.0],
        "flight.ground_speed": [1.0],
    },
    f"if lights.beacon is on then {PRESSURE} > 100 psi": {PRESSURE: [100.0]},
    f"200 bar < {PRESSURE}": {PRESSURE: [2900.7548]},
    "trip.v1 <= flight.airspeed": {"flight.airspeed": [128.0]},
    "trip.v1 <= trip.vr": {},
    f"{PRESSURE} > hydraulics.2.pressure": {},
    "flight.altitude > trip.runway_length": {"flight.altitude": [7874.0157]},
    "flight.altitude > trip.runway_length * 2 + 100 m": {"flight.altitude": [16076.1155]},
    "trip.runway_length < flight.altitude": {"flight.altitude": [7874.0157]},
    "lights.beacon is on": {},
}
"""Conditions, and the limits of each in its signal's own unit, with V1 at 128 kt and a runway of 2 400 m."""


def _pack(folder: Path, condition: str) -> Pack:
    text = PACK.replace("hydraulics.1.pressure in 2800..3200 psi", condition)
    pack = load_pack(str(write_pack(folder / "pack", text)), trip=TRIP)
    assert not pack.faults
    return pack


@pytest.mark.parametrize("condition", ROWS)
def test_limits(condition: str, tmp_path: Path) -> None:
    """Constants and values of the trip sheet are limits, in the signal's own unit; changing signals are not."""
    found: dict[str, list[float]] = {}
    for limit in limits_of(
        FOUND, _pack(tmp_path, condition), {"trip.v1": 128.0, "trip.runway_length": 2400.0}
    ):
        found.setdefault(limit.signal, []).append(limit.value)
    expected = ROWS[condition]
    assert found.keys() == expected.keys()
    for name, values in expected.items():
        assert sorted(found[name]) == pytest.approx(values, abs=1e-3)


def test_a_tolerance_around_a_plain_number(tmp_path: Path) -> None:
    """Both ends are labelled with their values for a number, and with its name for a value of the trip sheet."""
    plain = limits_of(FOUND, _pack(tmp_path, "controls.stabiliser_trim within 0.5 deg of 5 deg"), {})
    named = limits_of(FOUND, _pack(tmp_path, "speeds.v1.captain within 2 kt of trip.v1"), {"trip.v1": 128.0})
    assert [limit.label for limit in plain] == ["4.5 deg", "5.5 deg"]
    assert [limit.label for limit in named] == ["sheet V1 less the tolerance", "sheet V1 plus the tolerance"]


def test_without_a_trip_sheet_there_is_no_limit(tmp_path: Path) -> None:
    """A missing value of the trip sheet sets no limit."""
    assert limits_of(FOUND, _pack(tmp_path, "flight.airspeed >= trip.v1"), {}) == ()


def _flown(pack: Pack, names: tuple[str, ...], seconds: int) -> tuple[Samples, float]:
    """Samples of one frame per second, in which every number rises, and the time of the last frame."""
    loaded = LoadedInputLog()
    for second in range(seconds):
        values: dict[str, Value] = dict.fromkeys(names, 1000.0 + second)
        samples = [Sample(name, value, Quality.FRESH, float(second)) for name, value in values.items()]
        loaded.input_log.append_frame(Frame("", float(second), float(second), 0, names, samples))
        loaded.utc.append(float(second))
    return Samples(
        loaded.input_log, TimeAxis(loaded), {name: pack.signals[name] for name in names}
    ), seconds - 1.0


@pytest.mark.parametrize(
    ("closed_s", "window"), [(110.0, (40.0, 140.0)), (100.0, (40.0, 130.0)), (1500.0, (40.0, 640.0))]
)
def test_the_window(closed_s: float, window: tuple[float, float], tmp_path: Path) -> None:
    """Evidence lasts from 60 s before a finding opens to 30 s after it closes, at most ten minutes."""
    pack = _pack(tmp_path, f"{PRESSURE} > 200 bar")
    samples, end_s = _flown(pack, (PRESSURE,), 2000)
    evidence = evidence_for(FOUND, pack, samples, {}, (100.0, closed_s, end_s))
    assert evidence is not None
    assert (evidence.from_s, evidence.to_s) == window
    (series,) = evidence.series
    assert (series.times_s[0], series.values[0]) == (40.0, 1040.0)
    assert series.times_s[-1] < window[1]


def test_a_session_that_ends_soon_after(tmp_path: Path) -> None:
    """Evidence ends at the end of the session."""
    pack = _pack(tmp_path, f"{PRESSURE} > 200 bar")
    samples, end_s = _flown(pack, (PRESSURE,), 106)
    evidence = evidence_for(FOUND, pack, samples, {}, (100.0, 100.0, end_s))
    assert evidence is not None
    assert evidence.to_s == 105.0


def test_without_samples_there_is_no_evidence(tmp_path: Path) -> None:
    """If none of the signals was sent, there is no evidence."""
    pack = _pack(tmp_path, f"{PRESSURE} > 200 bar")
    loaded = LoadedInputLog()
    samples = Samples(loaded.input_log, TimeAxis(loaded), {PRESSURE: pack.signals[PRESSURE]})
    assert evidence_for(FOUND, pack, samples, {}, (100.0, 100.0, 200.0)) is None


def test_signals_without_room_are_named(tmp_path: Path) -> None:
    """Of many signals those that change most are drawn, and the labels of the others are listed."""
    needs = ("engine.*.n1 > 1 %", "engine.*.n2 > 1 %", "engine.*.egt > 1 degC", "engine.*.oil_pressure > 1 psi", "fuel.used.* > 1 kg")  # fmt: skip
    # Under `not any (not ...)` the item stays one: taken apart, each match would have half of the signals.
    pack = _pack(tmp_path, f"not any (not ({' and '.join(needs)}))")
    names = tuple(pack.items[FOUND.item].signals)
    assert len(names) > MAX_SERIES
    loaded = LoadedInputLog()
    for second in range(200):
        moving = {name: 50.0 + (second % (2 + at)) for at, name in enumerate(names)}
        samples = [Sample(name, value, Quality.FRESH, float(second)) for name, value in moving.items()]
        loaded.input_log.append_frame(Frame("", float(second), float(second), 0, names, samples))
        loaded.utc.append(float(second))
    drawn = Samples(loaded.input_log, TimeAxis(loaded), {name: pack.signals[name] for name in names})
    evidence = evidence_for(FOUND, pack, drawn, {}, (100.0, 100.0, 199.0))
    assert evidence is not None
    assert {series.signal for series in evidence.series} == set(names[-MAX_SERIES:])
    assert set(evidence.omitted_labels) == {pack.signals[name].label for name in names[:-MAX_SERIES]}


@pytest.mark.parametrize(
    ("condition", "label"),
    [
        ("flight.airspeed <= speeds.vref + 20 kt", "VREF plus 20 kt"),
        ("flight.airspeed >= speeds.vref - 5 kt", "VREF less 5 kt"),
        ("flight.airspeed <= speeds.vref", "VREF"),
        ("flight.airspeed <= 140 kt", "140 kt"),
    ],
)
def test_a_constant_signal_is_a_limit_with_its_full_label(condition: str, label: str, tmp_path: Path) -> None:
    """A signal that did not change sets a limit for one that did, labelled with every term of the sum."""
    pack = _pack(tmp_path, condition)
    loaded = LoadedInputLog()
    for second in range(200):
        values: dict[str, Value] = {"flight.airspeed": 150.0 + second, "speeds.vref": 132.0}
        samples = [Sample(name, value, Quality.FRESH, float(second)) for name, value in values.items()]
        loaded.input_log.append_frame(Frame("", float(second), float(second), 0, tuple(values), samples))
        loaded.utc.append(float(second))
    drawn = Samples(
        loaded.input_log,
        TimeAxis(loaded),
        {name: pack.signals[name] for name in pack.items[FOUND.item].signals},
    )
    evidence = evidence_for(FOUND, pack, drawn, {}, (100.0, 100.0, 199.0))
    assert evidence is not None
    assert [(limit.signal, limit.label) for limit in evidence.limits] == [("flight.airspeed", label)]
