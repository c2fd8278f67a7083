"""Tests of the figures that follow from the trip sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.calculations import (
    figure_calculations,
    off_stand_s,
    trip_sheet_values,
    value_text,
    values_at,
)
from bridge.debrief.model import DebriefData, FlownPhase
from bridge.debrief.time_axis import TimeAxis
from bridge.recording.reader import open_recording
from bridge.recording.replay_judge import trip_of_head
from bridge.rejudge.load_input_log import LoadedInputLog
from rules.packs.model import Pack
from rules.signals.model import Frame, Quality, Sample, Value


def _phase(name: str, code: str, from_s: float) -> FlownPhase:
    return FlownPhase(name, name, code, from_s, from_s, 0.0)


def _axis(frames: list[dict[str, Value | None]]) -> tuple[LoadedInputLog, TimeAxis]:
    """A frame every ten seconds."""
    loaded = LoadedInputLog()
    for number, values in enumerate(frames):
        sim_s = number * 10.0
        samples = [
            Sample(name, value, Quality.INVALID if value is None else Quality.FRESH, sim_s)
            for name, value in values.items()
        ]
        loaded.input_log.append_frame(Frame("", sim_s, sim_s, 0, tuple(values), samples))
        loaded.utc.append(sim_s)
    return loaded, TimeAxis(loaded)


def test_the_time_of_leaving_the_stand() -> None:
    """It is the start of the push back, or of the first taxi or take-off; the default if there is none."""
    phases = [_phase("stand", "STD", 0.0), _phase("push", "PBT", 50.0), _phase("taxi", "TXI", 90.0)]
    assert off_stand_s(phases, 500.0) == 50.0
    assert off_stand_s(phases[:1], 500.0) == 500.0
    assert off_stand_s([], 500.0) == 500.0


def test_values_are_those_of_the_given_time() -> None:
    """Later values do not count and invalid ones are left out, for words and numbers."""
    frames: list[dict[str, Value | None]] = [
        {"fuel.total": 8000.0, "lights.beacon": "off"},
        {"fuel.total": 7900.0},
        {"lights.beacon": "on"},
        {"fuel.total": None},
        {"fuel.total": 7000.0},
    ]
    loaded, axis = _axis(frames)
    assert values_at(loaded.input_log, axis, 15.0) == {"fuel.total": 7900.0, "lights.beacon": "off"}
    assert values_at(loaded.input_log, axis, 20.0) == {"fuel.total": 7900.0, "lights.beacon": "on"}
    assert values_at(loaded.input_log, axis, 30.0) == {"lights.beacon": "on"}
    assert values_at(loaded.input_log, axis, 99.0) == {"fuel.total": 7000.0, "lights.beacon": "on"}


@pytest.fixture
def trip_values(recording: Path) -> dict[str, Value]:
    """The trip sheet of the recorded flight."""
    return dict(trip_of_head(open_recording(recording).head).values)


def test_a_figure_without_its_inputs_is_left_out(twin_jet: Pack, trip_values: dict[str, Value]) -> None:
    """A figure that reads the aeroplane needs its values; one that reads only the trip sheet does not."""
    alone = {one.label for one in figure_calculations(twin_jet, trip_values, {})}
    full = {one.label for one in figure_calculations(twin_jet, trip_values, {"fuel.total": 8000.0})}
    assert "zero-fuel mass" in alone
    assert "take-off mass with the fuel on board" in full - alone
    assert figure_calculations(twin_jet, {}, {}) == ()


def test_a_value_out_of_range_is_ignored(twin_jet: Pack, trip_values: dict[str, Value]) -> None:
    """A value outside its signal's range counts as missing."""
    assert figure_calculations(twin_jet, trip_values, {"fuel.total": 9e9}) == figure_calculations(
        twin_jet, trip_values, {}
    )


def test_the_fuel_is_that_at_the_push_back(debrief: DebriefData) -> None:
    """The calculation uses the block fuel, since no engine has burned any of it at the push back."""
    (mass,) = [one for one in debrief.calculations if one.label == "take-off mass with the fuel on board"]
    assert "fuel on board 8 194 kg" in mass.explanation


def test_the_trip_sheet_as_text(twin_jet: Pack) -> None:
    """Numbers have their unit, words have spaces, and signals unknown to the pack are left out."""
    shown = trip_sheet_values(
        twin_jet, {"trip.v1": 128.0, "trip.runway_surface": "dry", "trip.no_such_thing": 1.0}
    )
    assert [(one.label, one.value) for one in shown] == [
        ("sheet V1", "128 kt"),
        ("sheet runway surface", "dry"),
    ]
    assert value_text(twin_jet.signals["trip.runway_surface"], "not_known") == "not known"
