"""Tests on peculiarities of the library's output: labels sent once, resets, values that are no numbers."""

from __future__ import annotations

import pytest

from adapters.factory import receiver_for
from adapters.mapping.load_map import load_map
from adapters.receiver import Receiver
from mock_sim.jsbsim.process.columns import TWIN_JET_COLUMNS
from rules.judge.events import MonitorsReset
from rules.signals.model import Frame, Quality
from tests.real.flight_assertions import assert_quiet
from tests.real.watched_flight import watch

LABELS = ["Time", *(column.caption for column in TWIN_JET_COLUMNS)]
HEADING = ("<LABELS> ," + ",".join(LABELS) + "\n").encode()


def row(**values: str) -> bytes:
    """Return one row, padded as by the library; 0 for signals not given."""
    return (",".join(f"{values.get(label, '0'):>12}" for label in LABELS) + "\n").encode()


def receiver() -> Receiver:
    """Return a receiver with the jet's map."""
    map_file = load_map("jsbsim_twin_jet")
    return receiver_for(map_file.signals, map_file=map_file)


def sample_of(frames: list[Frame], signal: str) -> tuple[object, Quality]:
    """Return the value and quality of a signal in the last frame."""
    sample = next(sample for sample in frames[-1].changes if sample.name == signal)
    return sample.value, sample.quality


@pytest.mark.real
@pytest.mark.usefixtures("library")
def test_a_late_receiver_uses_the_column_order() -> None:
    """A receiver that missed the labels uses the map's column order, and the flight is followed."""
    flight = watch("jet", (), ("--seconds", "120"), late=True)
    assert flight.health.headings == 0
    assert not flight.health.rejects
    assert flight.health.frames > 1000
    assert flight.phases[:4] == ["power_up", "engine_start", "after_start", "taxi"]
    assert_quiet(flight)


@pytest.mark.real
@pytest.mark.usefixtures("library")
def test_a_reset_starts_the_judging_again() -> None:
    """After a reset to the stand, with the clock at 0, judging starts again without errors."""
    flight = watch("jet", (), ("--reset-at", "40", "--seconds", "20"))
    assert flight.health.headings == 2
    assert flight.health.sequence.resets == 1
    assert flight.health.sequence.stale == 0
    assert [entry.epoch for entry in flight.judge_events if isinstance(entry, MonitorsReset)] == [1]
    assert flight.phases == ["power_up", "engine_start", "power_up", "engine_start"]
    assert_quiet(flight)


@pytest.mark.real
@pytest.mark.usefixtures("library")
def test_a_reset_in_the_air_starts_the_judging_again() -> None:
    """After a reset from the climb to the stand the second start is judged too: an early fuel is found twice."""
    flight = watch("piston", ["flaps_30"], ("--reset-at", "100", "--seconds", "85"))
    assert flight.health.sequence.resets == 1
    assert [f.item for f in flight.findings] == ["flow.before_takeoff.flaps"] * 2


def test_heading_of_360_is_north() -> None:
    """The library prints 360 for a heading just below north; it is decoded as 0."""
    reader = receiver()
    reader.receive(HEADING, 1.0)
    assert sample_of(reader.receive(row(Time="1", heading_true_deg="360"), 1.1), "flight.heading") == (
        0.0,
        Quality.FRESH,
    )


@pytest.mark.parametrize("text", ["nan", "-nan", "inf", "-inf"])
def test_a_value_that_is_not_a_number_is_invalid(text: str) -> None:
    """Such a value makes its signal invalid, and the others in the row are used."""
    reader = receiver()
    reader.receive(HEADING, 1.0)
    reader.receive(row(Time="1", n2_1_pct="50", n1_1_pct="20"), 1.1)
    frames = reader.receive(row(Time="1.05", n2_1_pct=text, n1_1_pct="21"), 1.2)
    assert sample_of(frames, "engine.1.n2") == (None, Quality.INVALID)
    assert sample_of(frames, "engine.1.n1") == (21.0, Quality.FRESH)


def test_minus_zero_is_zero() -> None:
    """The library prints -0; it is decoded as 0."""
    reader = receiver()
    reader.receive(HEADING, 1.0)
    assert sample_of(reader.receive(row(Time="1", climb_fps="-0"), 1.1), "flight.vertical_speed") == (
        0.0,
        Quality.FRESH,
    )


def test_a_repeated_label_is_not_used() -> None:
    """Two columns with one label, as without captions, are not mapped, and the report names them."""
    reader = receiver()
    repeated = HEADING.replace(b"n2_2_pct", b"n2_1_pct")
    reader.receive(repeated, 1.0)
    frames = reader.receive(row(Time="1", n2_1_pct="60", n2_2_pct="20"), 1.1)
    assert reader.health.ambiguous_labels == ("n2_1_pct",)
    assert {"engine.1.n2", "engine.2.n2"}.isdisjoint(frames[-1].carried)
    assert "engine.1.n1" in frames[-1].carried


def test_a_column_that_the_model_lacks_is_absent() -> None:
    """The library omits a column whose property does not exist; the map's other columns are still decoded correctly."""
    reader = receiver()
    labels = [label for label in LABELS if label != "speedbrake_norm"]
    reader.receive(("<LABELS> ," + ",".join(labels) + "\n").encode(), 1.0)
    values = {"Time": "1", "flap_deg": "10"}
    frames = reader.receive((",".join(values.get(label, "0") for label in labels) + "\n").encode(), 1.1)
    assert "controls.spoiler.left" not in frames[-1].carried
    assert sample_of(frames, "controls.flap.position") == (10.0, Quality.FRESH)
    assert set(reader.health.missing_fields) == {"speedbrake_norm"}
