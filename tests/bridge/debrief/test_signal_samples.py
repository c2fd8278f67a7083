"""What signals said around a moment: what was too old, invalid or forgotten is not known, and thinning keeps what matters."""

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
    """Puts frames on a tape; each carries the names that were ever said by this link."""

    def __init__(self, taped: LoadedInputLog) -> None:
        """Nothing said yet."""
        self._taped, self._carried = taped, dict[str, None]()

    def say(self, sim_s: float, values: Mapping[str, Value | None], epoch: int = 0) -> None:
        """One frame, which arrives on a clock that never goes back."""
        self._carried.update(dict.fromkeys(values))
        recv_s = sim_s + 1000.0 * epoch
        fresh = {True: Quality.FRESH, False: Quality.INVALID}
        samples = [Sample(name, value, fresh[value is not None], sim_s) for name, value in values.items()]
        self._taped.input_log.append_frame(Frame("", sim_s, recv_s, epoch, tuple(self._carried), samples))
        self._taped.utc.append(recv_s)


def _known(
    taped: LoadedInputLog, pack: Pack, name: str, from_s: float, to_s: float
) -> list[tuple[float, object]]:
    samples = Samples(taped.input_log, TimeAxis(taped), {name: pack.signals[name]})
    times_s, values = samples.between(name, from_s, to_s)
    return list(zip(times_s, values, strict=True))


@pytest.fixture
def taped() -> LoadedInputLog:
    """An empty tape."""
    return LoadedInputLog()


def test_what_stood_before_stands_at_the_beginning(taped: LoadedInputLog, pack: Pack) -> None:
    """A window begins with the value that was said before it, and has the changes inside it only."""
    link = Link(taped)
    for sim_s, word in ((0, "off"), (1, "off"), (2, "on"), (3, "on"), (4, "off"), (5, "off")):
        link.say(float(sim_s), {BEACON: word})
    assert _known(taped, pack, BEACON, 1.5, 3.5) == [(1.5, "off"), (2.0, "on")]
    assert _known(taped, pack, BEACON, 0.0, 10.0) == [(0.0, "off"), (2.0, "on"), (4.0, "off")]


def test_before_the_first_word_nothing_is_known(taped: LoadedInputLog, pack: Pack) -> None:
    """A window from before a signal was said begins when it was, and a signal that was never said has no course."""
    link = Link(taped)
    link.say(0.0, {BEACON: "on"})
    link.say(5.0, {BEACON: "on", PRESSURE: 3000.0})
    assert _known(taped, pack, PRESSURE, -10.0, 10.0) == [(5.0, 3000.0)]
    assert _known(taped, pack, V1, -10.0, 10.0) == []


def test_a_link_that_falls_silent(taped: LoadedInputLog, pack: Pack) -> None:
    """While a signal is older than its limit it is not known; carried again, unchanged, it is."""
    silent, other = Link(taped), Link(taped)
    for second in range(30):
        other.say(float(second), {PRESSURE: 3000.0})
        if not 5 <= second < 20:
            silent.say(second + 0.5, {BEACON: "on"} if second == 0 else {})
    limit_s = pack.signals[BEACON].max_age_s
    (first, gone, back) = _known(taped, pack, BEACON, 0.0, 30.0)
    assert first == (0.5, "on")
    assert gone[1] is None
    assert 4.5 + limit_s - 1.0 <= gone[0] <= 4.5 + limit_s + 1.0
    assert back == (20.5, "on")
    assert _known(taped, pack, PRESSURE, 0.0, 30.0) == [(0.0, 3000.0)]


def test_papers_never_grow_old(taped: LoadedInputLog, pack: Pack) -> None:
    """What does not age stands through silence, and through a jump of the clock."""
    link = Link(taped)
    link.say(0.0, {V1: 128.0})
    link.say(100.0, {})
    link.say(3.0, {}, epoch=1)
    assert _known(taped, pack, V1, 0.0, 200.0) == [(0.0, 128.0)]


def test_invalid_and_impossible_values_are_not_known(taped: LoadedInputLog, pack: Pack) -> None:
    """What the sender called invalid, and what the signal cannot have, cannot be believed."""
    link = Link(taped)
    for sim_s, value in enumerate((3000.0, None, 2900.0, 9e9, 2800.0)):
        link.say(float(sim_s), {PRESSURE: value})
    assert [value for _, value in _known(taped, pack, PRESSURE, 0.0, 9.0)] == [3000.0, None, 2900.0, None, 2800.0]  # fmt: skip


def test_a_jump_back_forgets(taped: LoadedInputLog, pack: Pack) -> None:
    """After the clock jumped back a signal is not known until it is said again, and the axis goes on."""
    link = Link(taped)
    link.say(0.0, {BEACON: "on", PRESSURE: 3000.0})
    link.say(50.0, {})
    link.say(10.0, {PRESSURE: 2900.0}, epoch=1)
    link.say(12.0, {BEACON: "on"}, epoch=1)
    known = _known(taped, pack, BEACON, 40.0, 99.0)
    assert [value for _, value in known][-2:] == [None, "on"]
    assert known[-1][0] == 52.0
    assert _known(taped, pack, PRESSURE, 40.0, 99.0)[-1] == (50.0, 2900.0)


def test_thinning_keeps_the_peaks(taped: LoadedInputLog, pack: Pack) -> None:
    """Of ten thousand points at most 600 are left, and the one spike and the one dip are among them, as are both ends."""
    link = Link(taped)
    for number in range(10_000):
        value = {4321: 4900.0, 7654: 12.0}.get(number, 3000.0 + number % 7)
        link.say(number / 20, {PRESSURE: value})
    known = _known(taped, pack, PRESSURE, 0.0, 600.0)
    assert len(known) <= MAX_POINTS
    assert (4321 / 20, 4900.0) in known
    assert (7654 / 20, 12.0) in known
    assert [known[0][0], known[-1][0]] == [0.0, 9999 / 20]
    assert [time_s for time_s, _ in known] == sorted(time_s for time_s, _ in known)


def test_thinning_keeps_where_nothing_is_known(taped: LoadedInputLog, pack: Pack) -> None:
    """A value that was invalid for one frame among thousands leaves its gap."""
    link = Link(taped)
    for number in range(5_000):
        link.say(number / 20, {PRESSURE: None if number == 2500 else 3000.0 + number % 3})
    assert (125.0, None) in _known(taped, pack, PRESSURE, 0.0, 600.0)
