"""The state agrees with a naive model, and ages, refuses and renews samples as documented."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value
from rules.signals.state import SignalState

SIGNALS = {
    signal.name: signal
    for signal in (
        Signal("flap", SignalKind.QUANTITY, 27, "flap", "", unit="deg", low=0, high=40, max_age_s=3),
        Signal("heading", SignalKind.ANGLE, 0, "heading", "", unit="deg", low=0, high=360, max_age_s=1),
        Signal("beacon", SignalKind.SWITCH, 33, "beacon", "", words=("off", "on"), max_age_s=3),
        Signal("mode", SignalKind.CHOICE, 34, "mode", "", words=("off", "standby", "on"), max_age_s=30),
        Signal("squawk", SignalKind.COUNT, 34, "squawk", "", high=7777, max_age_s=30),
        Signal("trip.runway", SignalKind.TEXT, 0, "runway", "", max_length=4, max_age_s=0),
    )
}


def frame(at_s: float, *changes: Sample, carried: tuple[str, ...] = (), sim_s: float | None = None) -> Frame:
    """One frame that carries its changes and the other names given."""
    names = tuple(dict.fromkeys((*(sample.name for sample in changes), *carried)))
    return Frame("test", at_s if sim_s is None else sim_s, at_s, 0, names, changes)


def fresh(name: str, value: Value, sim_s: float = 0.0) -> Sample:
    """Sample as a link sends it."""
    return Sample(name, value, Quality.FRESH, sim_s)


# -- the naive model --------------------------------------------------------------------------------


@dataclass
class Naive:
    """Definition of the state, written without any optimisation."""

    received: dict[str, Value | None] = field(default_factory=dict)
    last_s: dict[str, float] = field(default_factory=dict)
    stale: set[str] = field(default_factory=set)
    now_s: float = 0.0

    def samples(self) -> dict[str, tuple[Value | None, Quality]]:
        """Value and quality of every signal that was seen."""
        return {name: self._one(name) for name in self.received}

    def _one(self, name: str) -> tuple[Value | None, Quality]:
        value = self.received[name]
        if name in self.stale:
            return value, Quality.STALE
        return value, Quality.INVALID if value is None else Quality.FRESH

    def expire(self, recv_s: float) -> None:
        """Mark the samples that are too old."""
        self.now_s = max(self.now_s, recv_s)
        for name, value in self.received.items():
            age_s = SIGNALS[name].max_age_s
            if value is not None and age_s > 0 and recv_s > self.last_s[name] + age_s:
                self.stale.add(name)

    def fold(self, inputs: Frame) -> None:
        """Renew the carried signals."""
        self.now_s = max(self.now_s, inputs.recv_s)
        for name in inputs.carried:
            self.last_s[name] = max(self.last_s.get(name, -math.inf), inputs.recv_s)
        for name, value, quality, _ in inputs.changes:
            good = quality is Quality.FRESH and _possible(name, value)
            self.received[name] = value if good else None
        self.stale -= set(inputs.carried)


def _possible(name: str, value: Value | None) -> bool:
    """Values that each signal of this test can have."""
    match value:
        case str():
            return value in {"beacon": ("off", "on"), "mode": ("off", "standby", "on")}.get(name, ()) or (
                name == "trip.runway" and len(value) <= 4
            )
        case float():
            low, high = {"flap": (0, 40), "heading": (0, 360), "squawk": (0, 7777)}.get(name, (1, 0))
            return low <= value <= high and (name != "squawk" or value.is_integer())
        case _:
            return False


VALUES = st.one_of(
    st.sampled_from([0.0, -0.0, 5.0, 39.5, 360.0, 7777.0, 9000.0, -1.0, math.nan, math.inf, -math.inf]),
    st.sampled_from(["off", "on", "standby", "14", "14L", "", "nonsense"]),
)
QUALITIES = st.sampled_from([Quality.FRESH, Quality.FRESH, Quality.FRESH, Quality.INVALID, Quality.STALE])


@st.composite
def steps(draw: st.DrawFn) -> list[Frame | float]:
    """Frames and clock ticks, mostly forward in time, from two links whose clocks differ a little."""
    at_s, out = 0.0, list[Frame | float]()
    bundles = [tuple(SIGNALS), ("flap", "beacon"), ("heading",)]
    for _ in range(draw(st.integers(1, 25))):
        at_s += draw(st.sampled_from([0.0, 0.016, 0.5, 1.0, 2.9, 3.0, 3.1, 31.0]))
        recv_s = at_s - draw(st.sampled_from([0.0, 0.0, 0.0, 0.4]))
        if draw(st.booleans()):
            out.append(at_s)
            continue
        carried = draw(st.sampled_from(bundles))
        named = draw(st.lists(st.sampled_from(carried), unique=True))
        changes = [Sample(name, draw(VALUES), draw(QUALITIES), recv_s) for name in named]
        out.append(Frame("test", recv_s, recv_s, 0, carried, changes))
    return out


@given(steps())
def test_agrees_with_the_naive_model(inputs: list[Frame | float]) -> None:
    """After every step each value, quality and age is the naive model's, and exactly the changes are returned."""
    state, naive = SignalState(SIGNALS), Naive()
    for step in inputs:
        before = naive.samples()
        recv_s = step if isinstance(step, float) else step.recv_s
        naive.expire(recv_s)
        due = state.would_expire(recv_s)
        changed = state.expire(recv_s)
        assert due == bool(changed)
        _compare(state, naive, before, changed)
        if isinstance(step, Frame):
            before = naive.samples()
            naive.fold(step)
            _compare(state, naive, before, state.fold(step))


def _compare(
    state: SignalState, naive: Naive, before: dict[str, tuple[Value | None, Quality]], changed: list[Sample]
) -> None:
    """State and model agree, and `changed` is their difference from before, each name once."""
    wanted = naive.samples()
    assert {name: state.sample(name)[1:3] for name in SIGNALS if state.has_sample(name)} == wanted
    assert state.values == {
        name: value for name, (value, quality) in wanted.items() if quality is Quality.FRESH
    }
    assert {name: state.recv_s - at_s for name, at_s in state.carried_at_s().items() if name in wanted} == {
        name: naive.now_s - naive.last_s[name] for name in wanted
    }
    assert sorted(sample.name for sample in changed) == sorted(
        name for name, now in wanted.items() if now != before.get(name)
    )
    assert all(state.sample(sample.name) is sample and sample.sim_s == state.sim_s for sample in changed)


# -- single properties -------------------------------------------------------------------------------


def test_never_seen_is_absent() -> None:
    """A signal that no link has carried is absent, without value and age."""
    state = SignalState(SIGNALS)
    assert state.sample("flap") == Sample("flap", None, Quality.ABSENT, 0.0)
    assert not state.has_sample("flap")
    assert "flap" not in state.carried_at_s()


def test_a_sample_is_fresh_up_to_its_age_limit() -> None:
    """A sample exactly at its age limit is fresh; an older one is stale and has its last value."""
    state = SignalState(SIGNALS)
    state.fold(frame(10.0, fresh("flap", 5.0, 10.0)))
    assert state.expire(13.0) == []
    assert state.expire(13.001) == [Sample("flap", 5.0, Quality.STALE, 10.0)]
    assert "flap" not in state.values
    assert state.expire(14.0) == []


def test_the_trip_sheet_does_not_age() -> None:
    """The trip sheet's values stay fresh, also after the simulator's clock jumps back."""
    state = SignalState(SIGNALS)
    assert state.set_value("trip.runway", "14", 0.0) == [fresh("trip.runway", "14")]
    assert state.expire(1e9) == []
    state.restart(1)
    assert state.values == {"trip.runway": "14"}


def test_a_signal_carried_again_is_fresh() -> None:
    """A stale signal that a link carries again unchanged is fresh with its last value."""
    state = SignalState(SIGNALS)
    state.fold(frame(0.0, fresh("flap", 5.0)))
    state.expire(9.0)
    assert state.fold(frame(9.0, carried=("flap",))) == [Sample("flap", 5.0, Quality.FRESH, 9.0)]
    assert state.values == {"flap": 5.0}


def test_a_frame_renews_only_the_signals_that_it_carries() -> None:
    """A frame renews only the signals that it carries, not others."""
    state = SignalState(SIGNALS)
    state.fold(frame(0.0, fresh("flap", 5.0), fresh("beacon", "on")))
    state.fold(frame(2.0, carried=("beacon",)))
    assert [sample.name for sample in state.expire(4.0)] == ["flap"]


def test_the_simulators_clock_plays_no_part_in_age() -> None:
    """A simulation at 60 times the speed makes nothing stale; a paused one renews nothing."""
    state = SignalState(SIGNALS)
    state.fold(frame(0.0, fresh("flap", 5.0), sim_s=0.0))
    assert state.expire(1.0) == []
    state.fold(frame(1.0, sim_s=600.0))
    assert state.expire(2.0) == []
    assert state.expire(3.5) == [Sample("flap", 5.0, Quality.STALE, 600.0)]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("flap", math.nan),
        ("flap", math.inf),
        ("flap", -0.1),
        ("flap", 40.1),
        ("flap", "5"),
        ("flap", True),
        ("heading", -1.0),
        ("squawk", 12.5),
        ("beacon", "ON"),
        ("beacon", 1.0),
        ("mode", "auto"),
        ("trip.runway", "14 left"),
    ],
)
def test_impossible_values_are_invalid(name: str, value: Value) -> None:
    """A value that the signal cannot have is invalid, without a value, by frame and by hand."""
    invalid = Sample(name, None, Quality.INVALID, 1.0)
    assert SignalState(SIGNALS).fold(frame(1.0, fresh(name, value, 1.0))) == [invalid]
    state = SignalState(SIGNALS)
    assert state.set_value(name, value, 1.0) == [invalid]
    assert state.values == {}


@pytest.mark.parametrize(
    ("name", "value"),
    [("flap", 40.000001), ("flap", 5), ("heading", 360.0), ("squawk", 7777.0), ("trip.runway", "")],
)
def test_valid_values_are_stored(name: str, value: Value) -> None:
    """The ends of a range belong to it, with the tolerance for 32-bit senders."""
    state = SignalState(SIGNALS)
    state.fold(frame(1.0, fresh(name, value, 1.0)))
    assert state.values == {name: value}


def test_marked_as_invalid() -> None:
    """A sample that its sender marks as invalid has no value until a valid one comes."""
    state = SignalState(SIGNALS)
    state.fold(frame(0.0, fresh("flap", 5.0)))
    assert state.fold(frame(1.0, Sample("flap", 7.0, Quality.INVALID, 1.0))) == [
        Sample("flap", None, Quality.INVALID, 1.0)
    ]
    assert state.fold(frame(2.0, fresh("flap", 5.0, 2.0))) == [fresh("flap", 5.0, 2.0)]


def test_unknown_signals_are_ignored() -> None:
    """A name that is in no book changes nothing and is not stored."""
    state = SignalState(SIGNALS)
    assert state.fold(frame(0.0, fresh("nobody.knows", 1.0))) == []
    assert not state.has_sample("nobody.knows")


def test_clock_of_a_second_link_behind() -> None:
    """Within an epoch the simulator's clock does not go back; a late frame counts at the present time."""
    state = SignalState(SIGNALS)
    state.fold(frame(1.0, fresh("flap", 5.0, 100.0), sim_s=100.0))
    assert state.fold(frame(1.1, fresh("beacon", "on", 99.0), sim_s=99.0)) == [fresh("beacon", "on", 100.0)]
    assert state.sim_s == 100.0


def test_restart_removes_samples() -> None:
    """After a restart every signal is absent until it is sent again, and the clock may start anywhere."""
    state = SignalState(SIGNALS)
    state.fold(frame(5.0, fresh("flap", 5.0, 500.0), sim_s=500.0))
    state.restart(3)
    assert (state.epoch, state.values, state.has_sample("flap"), state.samples()) == (3, {}, False, {})
    assert state.fold(frame(6.0, fresh("flap", 5.0, -2.0), sim_s=-2.0)) == [fresh("flap", 5.0, -2.0)]
    assert state.sim_s == -2.0


def test_new_tuples_do_not_accumulate() -> None:
    """A sender with a new list of names in every frame does not make the state grow."""
    state = SignalState(SIGNALS)
    for number in range(1000):
        state.fold(frame(number * 0.01, carried=tuple(dict(SIGNALS))))
    assert len(state._pending_renewals) <= 64
    state.fold(frame(10.0, fresh("flap", 1.0, 10.0)))
    assert state.carried_at_s()["flap"] == 10.0


def test_derived_numbers_do_not_age() -> None:
    """A derived number is fresh until it is set again; the same value is no change, None is invalid."""
    state = SignalState(SIGNALS)
    state.fold(frame(1.0, fresh("flap", 5.0)))
    assert state.set_derived("trip.lift", 1.5) == Sample("trip.lift", 1.5, Quality.FRESH, 1.0)
    assert state.set_derived("trip.lift", 1.5) is None
    assert [sample.name for sample in state.expire(1e6)] == ["flap"]
    assert state.values["trip.lift"] == 1.5
    assert state.set_derived("trip.lift", None) == Sample("trip.lift", None, Quality.INVALID, 1.0)
    assert "trip.lift" not in state.values


def test_removed_signals_are_absent() -> None:
    """A removed signal is absent until it is sent again."""
    state = SignalState(SIGNALS)
    state.fold(frame(1.0, fresh("flap", 5.0)))
    state.forget(["flap", "beacon"])
    assert not state.has_sample("flap")
    assert state.sample("flap").quality is Quality.ABSENT
    assert "flap" not in state.values
    assert [sample.value for sample in state.fold(frame(2.0, fresh("flap", 5.0)))] == [5.0]


def test_a_stall_does_not_age_a_signal() -> None:
    """Of a silence without simulated time 1 s counts as age, also for what the next frame does not carry."""
    state = SignalState(SIGNALS)
    state.fold(Frame("test", 10.0, 10.0, 0, ("flap", "beacon"), [Sample("flap", 5.0, Quality.FRESH, 10.0)]))
    assert [sample.quality for sample in state.expire(20.0)] == [Quality.STALE]
    frame = Frame("test", 10.1, 21.0, 0, ("beacon",), ())
    assert state.resume(frame) == [Sample("flap", 5.0, Quality.FRESH, 10.0)]
    assert state.expire(21.0) == []
    state.fold(frame)
    assert state.stalled_s == 10.0
    assert state.expire(23.0) == []
    assert [sample.name for sample in state.expire(23.001)] == ["flap"]


@pytest.mark.parametrize(
    "frame",
    [
        Frame("test", 21.0, 21.0, 0, ("flap",), ()),
        Frame("test", 10.6, 21.0, 0, ("flap",), (), missing_from_s=10.1),
    ],
)
def test_time_that_passed_unseen_is_no_stall(frame: Frame) -> None:
    """Where simulated time passed, or records are missing, the signal was stale before the frame."""
    state = SignalState(SIGNALS)
    state.fold(Frame("test", 10.0, 10.0, 0, ("flap",), [Sample("flap", 5.0, Quality.FRESH, 10.0)]))
    assert len(state.expire(20.0)) == 1
    assert state.resume(frame) == []
