"""The batch judge gives the live judge's events for packs with random rules."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.language import checked_tree as c
from rules.packs.model import (
    Call,
    CalloutRule,
    FlightTimeRule,
    Item,
    Level,
    OooiMoment,
    Pack,
    TraceMark,
    TraceRule,
    Watch,
)
from rules.signals.model import Frame, Quality, Sample
from tests.rules.judge.batch.compare_batch import (
    JudgeInput,
    RequestInput,
    TickInput,
    batch_events,
    live_events,
)
from tests.rules.judge.scripted_flight import FixedTripValues, PackBuilder, go, item, push
from tests.rules.language.condition_strategies import CALLS, SIGNALS, conditions, predicates, value_of, words

NAMES = tuple(SIGNALS)
SELF_DESCRIBING = words() | st.sampled_from([c.Once(c.CallEvent(name, name)) for name in CALLS])
RANDOM = st.one_of(SELF_DESCRIBING, SELF_DESCRIBING, conditions, predicates(conditions))
"""Half of them are simple, so that much happens."""
ITEMS = ("one", "two", "confirmed", "held", "both")
LEVELS = st.sampled_from(list(Level))


@st.composite
def items(draw: st.DrawFn) -> list[Item]:
    """Two random items, one that is confirmed, and two that read others."""
    one, two = (item(name, draw(RANDOM), level=draw(LEVELS)) for name in ITEMS[:2])
    confirmed = item("confirmed", None, confirm="Documents on board")
    of = draw(st.sampled_from([one, two, confirmed]))
    held = item("held", c.TimedHistorically(c.ItemMet(of.id, of.label), draw(st.sampled_from([0.25, 1.0]))))
    both = item("both", c.Or((c.ItemMet(held.id, "held"), draw(RANDOM))))
    one = replace(one, after=draw(st.none() | RANDOM), clear_s=draw(st.sampled_from([0.0, 1.0])))
    return [one, replace(two, follows=draw(st.sampled_from([(), (one.id,)]))), confirmed, held, both]


@st.composite
def packs(draw: st.DrawFn) -> Pack:
    """A pack whose conditions are random."""
    drawn = draw(items())
    needs = [each.id for each in drawn]
    back = replace(
        push(()), id="back", phase="stand", leaves=("rolling",), cue=draw(RANDOM), entry=draw(RANDOM)
    )
    gates = [
        back,
        replace(push(needs), cue=draw(RANDOM), entry=draw(RANDOM)),
        replace(go(needs[:2]), cue=draw(RANDOM), entry=draw(RANDOM)),
    ]
    hold_s = draw(st.sampled_from([0.0, 0.75]))
    watch = Watch(
        "w", "Watch", "captain", draw(LEVELS), draw(st.none() | RANDOM), draw(RANDOM), hold_s=hold_s
    )
    trace = TraceRule(
        "s", "Strip", draw(RANDOM), draw(RANDOM), ("x", "a"), 0.75, 4.0,
        marks=(TraceMark("mark", draw(RANDOM)),), evidence_for=frozenset({"w", *needs}),
    )  # fmt: skip
    return replace(
        PackBuilder(drawn, gates=gates, watches=[watch]).pack(),
        signals=SIGNALS,
        calls={name: Call(name, name, "ground") for name in CALLS},
        traces=(trace,),
        callouts=(CalloutRule("o", "{x} psi", draw(RANDOM)),),
        flight_times=(
            FlightTimeRule(OooiMoment.OUT, draw(RANDOM)),
            FlightTimeRule(OooiMoment.OFF, draw(RANDOM)),
        ),
    )


REQUESTS = st.builds(
    RequestInput, st.sampled_from(["call", "undo_call"]), st.sampled_from(CALLS)
) | st.builds(
    RequestInput,
    st.sampled_from(["confirm", "waive", "undo_waiver"]),
    st.sampled_from([f"flow.before.{name}" for name in ITEMS]),
)


WHAT = [*["frame"] * 4, *["rest", "ask"] * 3, *["tick", "jump"] * 2, "behind", "gap"]


@st.composite
def inputs(draw: st.DrawFn) -> list[JudgeInput]:
    """Frames (some without changes), ticks, requests, gaps, jumps back; times are quarters of a second."""
    now_s, recv_s, epoch, drawn = 8.0, 50.0, 0, list[JudgeInput]()
    for _ in range(draw(st.integers(1, 14))):
        what = draw(st.sampled_from(WHAT))
        by_s = draw(st.sampled_from([0.0, 0.25, 0.25, 0.5, 1.0, 2.5]))
        if what == "ask":
            drawn.append(draw(REQUESTS))
            continue
        recv_s += by_s + (4.0 if what == "gap" else 0.0)
        if what == "tick":
            drawn.append(TickInput(recv_s))
            continue
        now_s, epoch = (by_s, epoch + 1) if what == "jump" else (now_s + by_s, epoch)
        frame = draw(frames(now_s - (0.25 if what == "behind" else 0.0), recv_s, epoch))
        drawn.append(replace(frame, changes=(), calls=()) if what == "rest" else frame)
    return drawn


@st.composite
def frames(draw: st.DrawFn, now_s: float, recv_s: float, epoch: int) -> Frame:
    """One frame, of which some signals are carried and some of those changed or lost."""
    carried = draw(st.sampled_from([NAMES, NAMES, NAMES[:4], NAMES[4:]]))
    names = draw(st.lists(st.sampled_from(carried), unique=True, max_size=4))
    values = {name: draw(value_of(name)) for name in names}
    samples = [
        Sample(name, value, Quality.INVALID if value is None else Quality.FRESH, now_s)
        for name, value in values.items()
    ]
    return Frame(
        "test",
        now_s,
        recv_s,
        epoch,
        carried,
        samples,
        tuple(draw(st.lists(st.sampled_from(CALLS), max_size=1))),
        draw(missing_from(now_s)),
    )


def missing_from(now_s: float) -> st.SearchStrategy[float | None]:
    """Start of the missing data before a frame at this time; also one that is too short to count, or in the past."""
    return st.none() | st.sampled_from([0.25, 0.5, 0.75, 2.5]).map(lambda gap_s: now_s - gap_s)


@settings(max_examples=100, deadline=None)
@given(packs(), inputs(), st.booleans())
def test_the_batch_judge_gives_the_live_events(
    pack: Pack, entries: list[JudgeInput], calls_entered: bool
) -> None:
    """Every event is the same, in the same order, also if calls are known to be entered."""
    at_once = batch_events(pack, FixedTripValues(), entries, calls_entered=calls_entered)
    assert at_once == live_events(pack, FixedTripValues(), entries, calls_entered=calls_entered)
