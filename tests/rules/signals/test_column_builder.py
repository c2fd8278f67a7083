"""Columns give, for every signal and step, the sample that `SignalState` gives frame by frame."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings

from rules.signals.column_builder import ColumnBuilder
from rules.signals.input_log import InputLog, NotColumnar
from rules.signals.model import Frame, Quality, Sample, Signal
from rules.signals.state import SignalState
from tests.rules.judge.batch.compare_batch import JudgeInput, TickInput, input_log_of
from tests.rules.judge.batch.test_judge import inputs
from tests.rules.judge.scripted_flight import AT_REST, SIGNALS, switch

NAMES = tuple(AT_REST)


def _columnar(entries: list[JudgeInput]) -> list[Frame | TickInput]:
    """Frames and stale checks, where frames change only known names that they carry."""
    return [each for each in entries if isinstance(each, Frame | TickInput)]


def _plain(sample: Sample) -> tuple[object, type, Quality]:
    return sample.value, type(sample.value), sample.quality


@settings(max_examples=150, deadline=None)
@given(inputs())
def test_every_sample_agrees_with_the_state(entries: list[JudgeInput]) -> None:
    """Values, types and quality agree, through losses, silences, pauses and clock resets."""
    columnar = _columnar(entries)
    log = input_log_of(columnar)
    builder, state = ColumnBuilder(log, SIGNALS), SignalState(SIGNALS)
    segments = [builder.build_segment(first, end, {}) for first, end in log.epoch_ranges()]
    number = -1
    for each in columnar:
        if isinstance(each, TickInput):
            state.expire(each.recv_s)
            continue
        number += 1
        if not number or each.epoch != state.epoch:
            state.restart(each.epoch)
        else:
            state.resume(each)
            state.expire(each.recv_s)
        state.fold(each)
        stretch = next(s for s in reversed(segments) if s.first_frame_number <= number)
        step = int(stretch.frame_steps[number - stretch.first_frame_number])
        assert stretch.sim_s[step] == state.sim_s
        for name in SIGNALS:
            assert _plain(stretch.sample(name, step)) == _plain(state.sample(name)), name


def _frame(sim_s: float, changes: list[tuple[str, object]], carried: tuple[str, ...] = NAMES) -> Frame:
    samples = [Sample(name, value, Quality.FRESH, sim_s) for name, value in changes]  # type: ignore[arg-type]
    return Frame("test", sim_s, sim_s, 0, carried, samples)


def _folded(*frames: Frame, signals: dict[str, Signal] = SIGNALS) -> ColumnBuilder:
    log = InputLog()
    for frame in frames:
        log.append_frame(frame)
    return ColumnBuilder(log, signals)


def test_a_change_without_carrying_is_refused() -> None:
    """A change without carrying is refused: its age would be that of an earlier frame."""
    with pytest.raises(NotColumnar):
        _folded(_frame(0.0, [("beacon", "on")], ("pump",)))


def test_a_signal_twice_in_a_frame_is_refused() -> None:
    """A signal twice in a frame is refused: the first value lasts for no time, but it is a change."""
    builder = _folded(_frame(0.0, [("beacon", "on"), ("beacon", "off")]))
    with pytest.raises(NotColumnar):
        builder.build_segment(0, 1, {})


def test_a_link_with_new_names_in_every_frame_is_refused() -> None:
    """New name sets in every frame are refused: ageing would be computed for each of them."""
    with pytest.raises(NotColumnar):
        _folded(*(_frame(float(n), [], (*NAMES, f"nobody.{n}")) for n in range(300)))


def test_unknown_names_are_ignored() -> None:
    """Unknown names are ignored, as the state does."""
    stretch = _folded(
        _frame(0.0, [("beacon", "on"), ("nobody.knows", 3.0)], (*NAMES, "nobody.knows"))
    ).build_segment(0, 1, {})
    assert stretch.columns.keys() == {"beacon"}


def test_an_empty_log_has_no_segment() -> None:
    """An empty log has no segment."""
    log = InputLog()
    log.append_stale_check(5.0)
    assert log.epoch_ranges() == []
    assert ColumnBuilder(log, {"a": switch("a")}).carriers == {}


def test_freshness_changes() -> None:
    """Freshness changes are the steps at which a signal becomes fresh or stops; stale checks with a result are steps."""
    frames = [_frame(0.0, [("speed", 1.0)]), _frame(0.5, [("speed", 2.0)]), _frame(9.0, [])]
    stretch = _folded(*frames).build_segment(0, 3, {})
    assert stretch.columns["speed"].freshness_changes().tolist() == [0, 2, 3]
    assert stretch.sim_s.tolist() == [0.0, 0.5, 0.5, 9.0]
    assert stretch.sample("speed", 2) == Sample("speed", 2.0, Quality.STALE, 0.5)
    assert math.isnan(stretch.columns["speed"].numbers[2])
