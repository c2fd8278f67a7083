"""Tests of samples around a moment: stale, invalid and cleared values are unknown, and thinning keeps the extremes."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from bridge.debrief.signal_samples import MAX_POINTS, Samples
from bridge.debrief.time_axis import TimeAxis
from bridge.rejudge.load_input_log import LoadedInputLog
from rules.packs.model import Pack
from rules.signals.model import Frame, Quality, Sample, Value

BEACON, PRESSURE, V1 = "lights.beacon", "hydraulics.1.pressure", "trip.v1"


class Link:
    """Appends frames to an input log; each carries every name that this link has sent."""

    def __init__(self, loaded: LoadedInputLog) -> None:
        """Start without names."""
        self._taped, self._carried = loaded, dict[str, None]()

    def send(self, sim_s: float, values: Mapping[str, Value | None], epoch: int = 0) -> None:
        """Append one frame; its time of arrival never goes back."""
        self._carried.update(dict.fromkeys(values))
        recv_s = sim_s + 1000.0 * epoch
        fresh = {True: Quality.FRESH, False: Quality.INVALID}
        samples = [Sample(name, value, fresh[value is not None], sim_s) for name, value in values.items()]
        self._taped.input_log.append_frame(Frame("", sim_s, recv_s, epoch, tuple(self._carried), samples))
        self._taped.utc.append(recv_s)


def _known(
    loaded: LoadedInputLog, pack: Pack, name: str, from_s: float, to_s: float
) -> list[tuple[float, object]]:
    samples = Samples(loaded.input_log, TimeAxis(loaded), {name: pack.signals[name]})
    times_s, values = samples.between(name, from_s, to_s)
    return list(zip(times_s, values, strict=True))


@pytest.fixture
def loaded() -> LoadedInputLog:
    """An empty input log."""
    return LoadedInputLog()


def test_a_window_begins_with_the_last_value_before_it(loaded: LoadedInputLog, pack: Pack) -> None:
    """A window has the last value before it and the changes within it."""
    link = Link(loaded)
    for sim_s, word in ((0, "off"), (1, "off"), (2, "on"), (3, "on"), (4, "off"), (5, "off")):
        link.send(float(sim_s), {BEACON: word})
    assert _known(loaded, pack, BEACON, 1.5, 3.5) == [(1.5, "off"), (2.0, "on")]
    assert _known(loaded, pack, BEACON, 0.0, 10.0) == [(0.0, "off"), (2.0, "on"), (4.0, "off")]


def test_before_its_first_sample_a_signal_is_unknown(loaded: LoadedInputLog, pack: Pack) -> None:
    """A window begins at the first sample of a signal; a signal that was never sent has no samples."""
    link = Link(loaded)
    link.send(0.0, {BEACON: "on"})
    link.send(5.0, {BEACON: "on", PRESSURE: 3000.0})
    assert _known(loaded, pack, PRESSURE, -10.0, 10.0) == [(5.0, 3000.0)]
    assert _known(loaded, pack, V1, -10.0, 10.0) == []


def test_a_link_that_stops_sending(loaded: LoadedInputLog, pack: Pack) -> None:
    """A signal older than its limit is unknown; carried again without a change it is known."""
    silent, other = Link(loaded), Link(loaded)
    for second in range(30):
        other.send(float(second), {PRESSURE: 3000.0})
        if not 5 <= second < 20:
            silent.send(second + 0.5, {BEACON: "on"} if second == 0 else {})
    limit_s = pack.signals[BEACON].max_age_s
    (first, lost, back) = _known(loaded, pack, BEACON, 0.0, 30.0)
    assert first == (0.5, "on")
    assert lost[1] is None
    assert 4.5 + limit_s - 1.0 <= lost[0] <= 4.5 + limit_s + 1.0
    assert back == (20.5, "on")
    assert _known(loaded, pack, PRESSURE, 0.0, 30.0) == [(0.0, 3000.0)]


def test_the_trip_sheet_never_becomes_stale(loaded: LoadedInputLog, pack: Pack) -> None:
    """A signal without an age limit stays known without samples and over a jump of the clock."""
    link = Link(loaded)
    link.send(0.0, {V1: 128.0})
    link.send(100.0, {})
    link.send(3.0, {}, epoch=1)
    assert _known(loaded, pack, V1, 0.0, 200.0) == [(0.0, 128.0)]


def test_invalid_values_and_values_out_of_range_are_unknown(loaded: LoadedInputLog, pack: Pack) -> None:
    """A value that is invalid or outside its signal's range is None."""
    link = Link(loaded)
    for sim_s, value in enumerate((3000.0, None, 2900.0, 9e9, 2800.0)):
        link.send(float(sim_s), {PRESSURE: value})
    assert [value for _, value in _known(loaded, pack, PRESSURE, 0.0, 9.0)] == [3000.0, None, 2900.0, None, 2800.0]  # fmt: skip


def test_a_jump_back_clears_signals(loaded: LoadedInputLog, pack: Pack) -> None:
    """After a jump of the clock a signal is unknown until its next sample, and the axis continues."""
    link = Link(loaded)
    link.send(0.0, {BEACON: "on", PRESSURE: 3000.0})
    link.send(50.0, {})
    link.send(10.0, {PRESSURE: 2900.0}, epoch=1)
    link.send(12.0, {BEACON: "on"}, epoch=1)
    known = _known(loaded, pack, BEACON, 40.0, 99.0)
    assert [value for _, value in known][-2:] == [None, "on"]
    assert known[-1][0] == 52.0
    assert _known(loaded, pack, PRESSURE, 40.0, 99.0)[-1] == (50.0, 2900.0)


def test_thinning_keeps_the_extremes(loaded: LoadedInputLog, pack: Pack) -> None:
    """Of ten thousand points at most 600 are left, with the spike, the dip and both ends."""
    link = Link(loaded)
    for number in range(10_000):
        value = {4321: 4900.0, 7654: 12.0}.get(number, 3000.0 + number % 7)
        link.send(number / 20, {PRESSURE: value})
    known = _known(loaded, pack, PRESSURE, 0.0, 600.0)
    assert len(known) <= MAX_POINTS
    assert (4321 / 20, 4900.0) in known
    assert (7654 / 20, 12.0) in known
    assert [known[0][0], known[-1][0]] == [0.0, 9999 / 20]
    assert [time_s for time_s, _ in known] == sorted(time_s for time_s, _ in known)


def test_thinning_keeps_gaps(loaded: LoadedInputLog, pack: Pack) -> None:
    """A value that is invalid for one frame among thousands stays a gap."""
    link = Link(loaded)
    for number in range(5_000):
        link.send(number / 20, {PRESSURE: None if number == 2500 else 3000.0 + number % 3})
    assert (125.0, None) in _known(loaded, pack, PRESSURE, 0.0, 600.0)
