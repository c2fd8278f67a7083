"""The arithmetic behind the papers, as it stood when the aeroplane left its stand."""

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


def _stage(name: str, code: str, from_s: float) -> FlownPhase:
    return FlownPhase(name, name, code, from_s, from_s, 0.0)


def _axis(said: list[dict[str, Value | None]]) -> tuple[LoadedInputLog, TimeAxis]:
    """A frame each ten seconds."""
    taped = LoadedInputLog()
    for number, values in enumerate(said):
        sim_s = number * 10.0
        samples = [
            Sample(name, value, Quality.INVALID if value is None else Quality.FRESH, sim_s)
            for name, value in values.items()
        ]
        taped.input_log.append_frame(Frame("", sim_s, sim_s, 0, tuple(values), samples))
        taped.utc.append(sim_s)
    return taped, TimeAxis(taped)


def test_when_it_left_its_stand() -> None:
    """The push back, or the first taxi or take-off; the end where it never left."""
    stages = [_stage("stand", "STD", 0.0), _stage("push", "PBT", 50.0), _stage("taxi", "TXI", 90.0)]
    assert off_stand_s(stages, 500.0) == 50.0
    assert off_stand_s(stages[:1], 500.0) == 500.0
    assert off_stand_s([], 500.0) == 500.0


def test_values_are_those_of_that_moment() -> None:
    """What was said later does not count, what became invalid is not there, words and numbers alike."""
    frames: list[dict[str, Value | None]] = [
        {"fuel.total": 8000.0, "lights.beacon": "off"},
        {"fuel.total": 7900.0},
        {"lights.beacon": "on"},
        {"fuel.total": None},
        {"fuel.total": 7000.0},
    ]
    taped, axis = _axis(frames)
    assert values_at(taped.input_log, axis, 15.0) == {"fuel.total": 7900.0, "lights.beacon": "off"}
    assert values_at(taped.input_log, axis, 20.0) == {"fuel.total": 7900.0, "lights.beacon": "on"}
    assert values_at(taped.input_log, axis, 30.0) == {"lights.beacon": "on"}
    assert values_at(taped.input_log, axis, 99.0) == {"fuel.total": 7000.0, "lights.beacon": "on"}


@pytest.fixture
def papers(recording: Path) -> dict[str, Value]:
    """Those of the recorded flight."""
    return dict(trip_of_head(open_recording(recording).head).values)


def test_a_figure_without_its_inputs_is_left_out(twin_jet: Pack, papers: dict[str, Value]) -> None:
    """What reads the aeroplane needs the aeroplane; what reads papers alone is worked out from the papers."""
    alone = {one.label for one in figure_calculations(twin_jet, papers, {})}
    full = {one.label for one in figure_calculations(twin_jet, papers, {"fuel.total": 8000.0})}
    assert "zero-fuel mass" in alone
    assert "take-off mass with the fuel on board" in full - alone
    assert figure_calculations(twin_jet, {}, {}) == ()


def test_what_a_signal_cannot_be_is_not_reckoned_with(twin_jet: Pack, papers: dict[str, Value]) -> None:
    """A value out of its range counts as none."""
    assert figure_calculations(twin_jet, papers, {"fuel.total": 9e9}) == figure_calculations(
        twin_jet, papers, {}
    )


def test_the_fuel_is_that_on_leaving(account: DebriefData) -> None:
    """The block fuel is on board in the working, for at the push back no engine had burned any of it."""
    (mass,) = [one for one in account.calculations if one.label == "take-off mass with the fuel on board"]
    assert "fuel on board 8 195 kg" in mass.explanation


def test_papers_in_words(twin_jet: Pack) -> None:
    """Numbers have their unit, words their spaces, and what the pack does not know is left out."""
    shown = trip_sheet_values(
        twin_jet, {"trip.v1": 128.0, "trip.runway_surface": "dry", "trip.no_such_thing": 1.0}
    )
    assert [(one.label, one.value) for one in shown] == [
        ("sheet V1", "128 kt"),
        ("sheet runway surface", "dry"),
    ]
    assert value_text(twin_jet.signals["trip.runway_surface"], "not_known") == "not known"
