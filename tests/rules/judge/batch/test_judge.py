"""The batch judge gives the live judge's events for the same inputs, to the byte."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import example, given, settings
from hypothesis import strategies as st

from rules.arithmetic.domain import DomainError
from rules.language import checked_tree as c
from rules.packs.model import (
    CalloutRule,
    Figure,
    FlightTimeRule,
    Level,
    OooiMoment,
    OwnSentences,
    Pack,
    Phase,
    QuietPeriod,
    TraceMark,
    TraceRule,
    Watch,
)
from rules.signals.model import Frame, Quality, Sample, Signal, SignalKind, Value
from tests.rules.judge.batch.compare_batch import (
    JudgeInput,
    RequestInput,
    TickInput,
    batch_events,
    live_events,
)
from tests.rules.judge.batch.test_random_packs import missing_from
from tests.rules.judge.scripted_flight import (
    AT_REST,
    BEACON,
    HEADING,
    HEIGHT,
    LIGHT,
    MODE,
    PROBE,
    PUMP,
    SIGNALS,
    SPEED,
    TRIP_HEADING,
    FixedTripValues,
    PackBuilder,
    above,
    called,
    go,
    item,
    number,
    on,
    push,
    same,
)

TURN, TWICE = number("figure.turn", "deg", max_age_s=0.0), number("figure.twice", "deg", max_age_s=0.0)
CLOCK = Signal("clock.utc", SignalKind.QUANTITY, 31, "clock", "a clock", "s", 0.0, 86400.0)
NAMES = (*AT_REST, "clock.utc")


def _turn(heading: float, wanted: float) -> float:
    """A function that refuses some numbers."""
    if heading > 100:
        raise DomainError(f"a heading of {heading:g}", "up to 100")
    return heading - wanted


def _read(signal: Signal) -> c.Term:
    return c.SignalValue(signal, unit=signal.unit)


def pack() -> Pack:
    """A pack with a part of every kind, in which few inputs are needed for many events."""
    say = OwnSentences("beacon dark at {heading}", "beacon flashing, {mode}")
    beacon = replace(item("beacon", on(BEACON)), say=say)
    pump = replace(item("pump", on(PUMP)), after=called("ground_clear"))
    probe = replace(item("probe", c.TimedHistorically(on(PROBE), 1.5)), follows=(beacon.id,), hold_s=0.0)
    mode = item("mode", c.WordIs(MODE, ("on",)), level=Level.WARNING)
    heading = item("heading", same(HEADING, TRIP_HEADING))
    documents = item("documents", None, confirm="Documents on board")
    complete = item("complete", c.And((c.ItemMet(documents.id, "documents"), c.ItemMet(beacon.id, "beacon"))))
    turn = item("turn", c.Relation(_read(TWICE), "<=", c.Constant(40.0, "deg")))
    steady = c.Relation(c.Window("change", _read(HEIGHT), 2.0, "ft"), "<", c.Constant(5.0, "ft"))
    level = item("level", c.Since(steady, c.Rise(on(BEACON))))
    calm = item("calm", c.TimedHistorically(c.Not(called("ground_clear")), 2.0))
    signed = item("signed", c.TimedHistorically(c.ItemMet(documents.id, "documents"), 1.0))
    travel = c.Sweep(_read(HEADING), c.Constant(10.0, "deg"), c.Constant(50.0, "deg"))
    swept = item("swept", c.BeforeAfter(travel, "after", c.Rise(on(BEACON))))
    cleared = replace(
        item("cleared", c.BeforeAfter(c.CallEvent("ready", "ready"), "before", travel)), hold_s=0.0
    )
    items = [
        beacon,
        pump,
        probe,
        mode,
        heading,
        documents,
        complete,
        turn,
        level,
        calm,
        signed,
        swept,
        cleared,
    ]
    needs = [each.id for each in items]
    watch = Watch("watch.w", "Light", "captain", Level.CAUTION, on(BEACON), on(LIGHT), hold_s=1.0)
    high = c.Relation(c.Window("highest", _read(HEIGHT), 3.0, "ft"), "<", c.Constant(30.0, "ft"))
    low = Watch("watch.low", "Height", "captain", Level.WARNING, None, high, phases=("pushing",))
    back = replace(push(()), id="back", phase="stand", leaves=("rolling",), cue=on(LIGHT), entry=on(PROBE))
    small_pack = PackBuilder(
        items,
        gates=[back, replace(push(needs), cue=above(HEADING, 10)), go(needs[:2])],
        watches=[watch, low],
        quiets=[QuietPeriod("q", above(HEADING, 50), (Level.CAUTION,))],
    ).pack()
    trace = TraceRule(
        "trace.s",
        "Strip",
        on(PUMP),
        above(SPEED, 40),
        ("speed", "beacon", "figure.turn"),
        1.0,
        6.0,
        marks=(TraceMark("light", on(LIGHT)),),
        evidence_for=frozenset({"watch.w", "watch.low"}),
    )
    figures = (
        Figure(
            TURN, _turn, {"heading": _read(HEADING), "wanted": _read(TRIP_HEADING)}, {}, 1.0, 0.0, "turn", "x"
        ),
        Figure(TWICE, _turn, {"heading": _read(TURN), "wanted": _read(HEIGHT)}, {}, 2.0, 1.0, "twice", "y"),
    )
    return replace(
        small_pack,
        signals={**SIGNALS, "clock.utc": CLOCK, TURN.name: TURN, TWICE.name: TWICE},
        phases=(*small_pack.phases, Phase("there", "There", "STD")),
        figures=figures,
        traces=(trace,),
        callouts=(CalloutRule("callout.c", "{heading} degrees", c.TimedHistorically(above(SPEED, 1), 0.5)),),
        flight_times=(
            FlightTimeRule(OooiMoment.OUT, above(SPEED, 1)),
            FlightTimeRule(OooiMoment.OFF, above(HEIGHT, 20)),
        ),
    )


PACK = pack()
VALUES: dict[str, st.SearchStrategy[object]] = {
    "mode": st.sampled_from(["off", "standby", "on", "nonsense"]),
    "heading": st.sampled_from([0.0, 20, 60.0, 150.0, float("nan")]),
    "speed": st.sampled_from([0.0, 3.0, 50.0, 2e6, "fast"]),
    "height": st.sampled_from([0.0, 4.0, 25.0, 60.0]),
    "clock.utc": st.sampled_from([10.0, 86399.0]),
}
SWITCH = st.sampled_from(["off", "on"])
REQUESTS = st.one_of(
    st.builds(RequestInput, st.sampled_from(["call", "call", "undo_call"]), st.sampled_from(["ready", "cleared", "ground_clear", "no"])),
    st.builds(RequestInput, st.sampled_from(["confirm", "waive", "undo_waiver"]), st.sampled_from([f"flow.before.{n}" for n in ("documents", "beacon", "mode")])),
    st.builds(RequestInput, st.just("amend"), values=st.sampled_from([(("trip.heading", 20.0),), (("trip.heading", 0.0),), (("trip.no", 1.0),)])),
)  # fmt: skip


@st.composite
def inputs(draw: st.DrawFn) -> list[JudgeInput]:
    """Frames of one link or two, gaps, jumps back, pauses, requests."""
    now_s, recv_s, epoch, drawn = draw(st.sampled_from([0.0, 100.0])), 50.0, 0, list[JudgeInput]()
    for _ in range(draw(st.integers(1, 25))):
        what = draw(
            st.sampled_from(
                ["frame"] * 8 + ["tick", "tick", "ask", "ask", "ask", "jump", "gap", "rest", "rest"]
            )
        )
        by_s = draw(st.sampled_from([0.0, 0.25, 0.5, 1.0, 4.0]))
        recv_s += by_s
        if what == "tick":
            drawn.append(TickInput(recv_s))
            continue
        if what == "ask":
            drawn.append(draw(REQUESTS))
            continue
        if what == "rest":
            for _ in range(draw(st.integers(1, 4))):
                now_s, recv_s = now_s + 0.5, recv_s + 0.5
                drawn.append(Frame("test", now_s, recv_s, epoch, NAMES, ()))
            continue
        now_s, epoch = (by_s, epoch + 1) if what == "jump" else (now_s + by_s, epoch)
        recv_s += 30.0 if what == "gap" else 0.0
        drawn.append(draw(frames(now_s, recv_s, epoch)))
    return drawn


@st.composite
def frames(draw: st.DrawFn, now_s: float, recv_s: float, epoch: int) -> Frame:
    """One frame: some signals carried, some of them changed, some without a value."""
    carried = draw(st.sampled_from([NAMES, NAMES, NAMES[:4], NAMES[4:]]))
    changed = draw(st.lists(st.sampled_from(carried), unique=True, max_size=5))
    samples = []
    for name in changed:
        value = draw(VALUES.get(name, SWITCH))
        lost = draw(st.sampled_from([False, False, False, False, True]))
        quality = Quality.INVALID if lost else Quality.FRESH
        samples.append(Sample(name, None if lost else value, quality, now_s))  # type: ignore[arg-type]
    calls = draw(st.sampled_from([(), (), (), (), ("ready",), ("cleared", "unknown")]))
    return Frame("test", now_s, recv_s, epoch, carried, samples, calls, draw(missing_from(now_s)))


TRIP = FixedTripValues({"trip.heading": 20.0})


PUMPING = [
    Sample(name, "on" if name == "pump" else value, Quality.FRESH, 0.0) for name, value in AT_REST.items()
]


@settings(max_examples=400, deadline=None)
@given(inputs())
@example(
    [
        Frame("test", 0.0, 50.0, 0, NAMES, PUMPING),
        Frame("test", 0.5, 50.5, 0, NAMES, []),
        RequestInput("undo_call", "ready"),
        Frame("test", 0.0, 51.0, 1, NAMES, []),
    ]
)
def test_the_batch_judge_gives_the_live_events(entries: list[JudgeInput]) -> None:
    """Verdicts, findings, notices, callouts, times, traces: every event is the same, in the same order."""
    assert batch_events(PACK, TRIP, entries) == live_events(PACK, TRIP, entries)


class FrameScript:
    """Inputs made one after the other, a frame each half second."""

    def __init__(self) -> None:
        """Begin with a frame at rest."""
        self.inputs: list[JudgeInput] = []
        self.now_s = 0.0
        self.frame(carried=NAMES, **AT_REST)

    def frame(self, carried: tuple[str, ...] = NAMES, **values: Value) -> None:
        """A frame in which these change."""
        samples = [Sample(name, value, Quality.FRESH, self.now_s) for name, value in values.items()]
        self.inputs.append(Frame("test", self.now_s, self.now_s, 0, carried, samples))
        self.now_s += 0.5

    def rest(self, frames: int, carried: tuple[str, ...] = NAMES) -> None:
        """Frames in which nothing changes."""
        for _ in range(frames):
            self.frame(carried)

    def jump(self) -> None:
        """The simulator clock jumps back, and a frame at rest follows."""
        samples = [Sample(name, value, Quality.FRESH, 0.0) for name, value in AT_REST.items()]
        self.inputs.append(Frame("test", 0.0, self.now_s, 1, NAMES, samples))

    def compare(self) -> list[bytes]:
        """Compare the live and the batch events, and give them."""
        events = live_events(PACK, TRIP, self.inputs)
        assert batch_events(PACK, TRIP, self.inputs) == events
        return events


def _returned_flight(carried: tuple[str, ...] = NAMES) -> FrameScript:
    """Out to the roll and back to the stand: confirmations are void, and the mode has not moved since."""
    flown = FrameScript()
    flown.inputs.append(RequestInput("confirm", "flow.before.documents"))
    flown.frame(carried, beacon="on", mode="standby")
    flown.frame(carried, heading=20.0)
    flown.frame(carried, speed=3.0)
    flown.frame(carried, speed=50.0)
    flown.frame(carried, light="on")
    flown.frame(carried, probe="on", heading=0.0, speed=0.0)
    return flown


def test_effects_of_a_step_start_at_the_next_frame() -> None:
    """A return voids a confirmation; conditions on it change at the next frame, though nothing else changes in it."""
    flown = _returned_flight()
    flown.rest(4)
    events = flown.compare()
    assert any(b'"sim_s":3.5,"item":"flow.before.complete","verdict":"unmet"' in each for each in events)


def test_a_tick_without_effect_is_not_a_step() -> None:
    """If all signals that are too old never had a value, nothing is judged before the next frame."""
    others = tuple(name for name in NAMES if name != "clock.utc")
    flown = _returned_flight(others)
    flown.rest(4, others)
    events = flown.compare()
    assert any(b'"sim_s":3.5,"item":"flow.before.complete","verdict":"unmet"' in each for each in events)


def test_a_tick_without_effect_is_not_a_step_before_a_reset() -> None:
    """Changes of the last step before a reset are lost: a tick without an effect does not apply them."""
    others = tuple(name for name in NAMES if name != "clock.utc")
    flown = _returned_flight(others)
    flown.inputs.append(TickInput(3.1))
    flown.jump()
    events = flown.compare()
    assert not any(b'"sim_s":3.0,"item":"flow.before.complete"' in each for each in events)


def test_a_refused_request_is_not_a_step() -> None:
    """Changes of a step count from the next frame, also with a refused request in between."""
    flown = _returned_flight()
    flown.inputs.append(RequestInput("undo_call", "stop"))
    flown.rest(6)
    events = flown.compare()
    assert any(
        b'"sim_s":3.5,"item":"flow.before.complete","verdict":"unmet","status":"open"' in each
        for each in events
    )


def test_a_reset_ends_a_trace_at_the_last_step() -> None:
    """The last step is the frame before the jump, also if nothing changes in it and a refused request follows."""
    flown = FrameScript()
    flown.frame(pump="on")
    flown.rest(3)
    flown.inputs.append(RequestInput("undo_call", "stop"))
    flown.jump()
    events = flown.compare()
    traces = [each for each in events if each.startswith(b"TraceRecorded")]
    assert len(traces) == 1
    assert b'"began_s":0.5,"ended_s":2.0,"end":"reset"' in traces[0]


def test_a_hold_begins_when_a_call_is_undone() -> None:
    """The hold begins at the undo, not at the last judged step."""
    flown = FrameScript()
    flown.inputs.append(RequestInput("call", "stop"))
    flown.rest(6)
    flown.inputs.append(RequestInput("call", "ground_clear"))
    flown.rest(10)
    flown.inputs.append(RequestInput("undo_call", "ground_clear"))
    flown.rest(8)
    events = flown.compare()
    assert any(b'"sim_s":10.0,"item":"flow.before.calm","verdict":"met"' in each for each in events)


def test_a_return_clears_the_moves_of_the_first_round() -> None:
    """A mode that has not moved since the return is an omission, not a wrong value."""
    flown = _returned_flight()
    flown.rest(4)
    flown.frame(heading=20.0)
    flown.rest(6)
    events = flown.compare()
    mode = [each for each in events if each.startswith(b"FindingOpened") and b"flow.before.mode" in each]
    assert [b'"kind":"wrong_value"' in each for each in mode] == [True, False]
