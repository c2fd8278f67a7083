"""Properties of any flight: no notice without a finding, repeatable events, every finding closed once."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.judge.events import FindingChanged, FindingOpened, ItemStatus, Notice, Verdict, VerdictChanged
from rules.judge.items import verdict_of
from rules.language import checked_tree as c
from rules.packs.model import Level, QuietPeriod, Watch
from rules.signals.model import Value
from tests.rules.judge.scripted_flight import (
    BEACON,
    HEADING,
    LIGHT,
    MODE,
    PROBE,
    PUMP,
    PackBuilder,
    ScriptedFlight,
    above,
    called,
    events_of,
    go,
    item,
    on,
    push,
    replace,
)

HOLD_S = 1.0
GAPS = st.floats(0.05, 0.9)
"""Shorter than the hold and the clear time."""


def rules() -> PackBuilder:
    """A pack in which every kind of event is possible."""
    beacon, pump = item("beacon", on(BEACON)), replace(item("pump", on(PUMP)), after=called("ground_clear"))
    probe = replace(item("probe", c.TimedHistorically(on(PROBE), 1.5)), follows=(beacon.id,))
    mode = item("mode", c.WordIs(MODE, ("on",)), level=Level.WARNING)
    watch = Watch("w", "Light", "captain", Level.CAUTION, on(BEACON), on(LIGHT), hold_s=1.0)
    needs = [beacon.id, pump.id, probe.id, mode.id]
    return PackBuilder(
        [beacon, pump, probe, mode],
        gates=[replace(push(needs), cue=above(HEADING, 10)), replace(go(needs[:2]), cue=called("ready"))],
        watches=[watch],
        quiets=[QuietPeriod("q", above(HEADING, 50), (Level.CAUTION,))],
    )


CHANGES: st.SearchStrategy[dict[str, Value]] = st.fixed_dictionaries(
    {},
    optional={
        "beacon": st.sampled_from(["off", "on"]),
        "pump": st.sampled_from(["off", "on"]),
        "probe": st.sampled_from(["off", "on"]),
        "light": st.sampled_from(["off", "on"]),
        "mode": st.sampled_from(["off", "standby", "on", "nonsense"]),
        "heading": st.sampled_from([0.0, 20.0, 60.0]),
        "speed": st.sampled_from([0.0, 3.0, 50.0]),
    },
)
STEPS = st.lists(
    st.tuples(
        st.floats(0.05, 20.0),
        CHANGES,
        st.sampled_from(["", "", "", "ready", "ground_clear", "!reset", "!gap"]),
    ),
    max_size=30,
)


def fly(steps: list[tuple[float, dict[str, Value], str]]) -> ScriptedFlight:
    """Fly these steps: seconds since the last, changed values, and a call, a gap or a jump back."""
    flight = ScriptedFlight(rules())
    flight.send_frame(0.0)
    for dt_s, values, what in steps:
        now_s = flight.judge.sim_s + dt_s
        if what == "!reset":
            flight.reset_clock(dt_s, **values)
        elif what == "!gap":
            flight.send_after_silence(now_s, flight.judge.snapshot().recv_s + 30.0)
        else:
            flight.send_frame(now_s, [what] if what else [], **values)
    return flight


@given(st.lists(st.tuples(GAPS, st.sampled_from(["beacon", "pump"])), min_size=1, max_size=60))
def test_flapping_faster_than_the_hold_gives_no_notice(flips: list[tuple[float, str]]) -> None:
    """Items that never stay unmet, or met, for their hold give no finding and no notice."""
    items = [
        replace(item(n, on(s)), hold_s=HOLD_S, clear_s=HOLD_S)
        for n, s in (("beacon", BEACON), ("pump", PUMP))
    ]
    flight = ScriptedFlight(PackBuilder(items))
    flight.send_frame(0.0, beacon="on", pump="on")
    flight.send_frame(2.0, ["ready"])
    now_s = 2.0
    for gap_s, name in flips:
        now_s += gap_s
        # Whatever is off goes on again: nothing is ever off for longer than one gap.
        values: dict[str, Value] = {
            n: "on" if flight.values[n] == "off" else flight.values[n] for n in ("beacon", "pump")
        }
        values[name] = "off" if flight.values[name] == "on" else "on"
        flight.send_frame(now_s, (), **values)
    assert events_of(flight.events, Notice) == []
    assert flight.judge.findings == []


@given(st.lists(GAPS, min_size=1, max_size=60))
def test_corrected_for_less_than_the_clear_time_is_reported_once(gaps: list[float]) -> None:
    """While an item changes faster than its clear time, its finding stays one finding."""
    flight = ScriptedFlight(PackBuilder([item("beacon", on(BEACON))]))
    flight.send_frame(0.0)
    flight.send_frame(1.0, ["ready"])
    flight.send_frame(2.5)
    now_s = 2.5
    for number, gap_s in enumerate(gaps):
        now_s += gap_s
        flight.send_frame(now_s, beacon="off" if number % 2 else "on")
    assert len(flight.judge.findings) == 1
    times = [n.sim_s for n in events_of(flight.events, Notice)]
    assert all(later - sooner >= 30.0 for sooner, later in itertools.pairwise(times))


@settings(max_examples=60)
@given(STEPS)
def test_the_same_frames_give_equal_events(steps: list[tuple[float, dict[str, Value], str]]) -> None:
    """Any flight, flown twice, gives equal events and an equal snapshot."""
    first, second = fly(steps), fly(steps)
    assert first.events == second.events
    assert first.judge.snapshot() == second.judge.snapshot()


@settings(max_examples=60)
@given(STEPS)
def test_the_record_of_findings_is_consistent(steps: list[tuple[float, dict[str, Value], str]]) -> None:
    """Findings are numbered in order, open once, close at most once, and every notice names an open one."""
    flight = fly(steps)
    open_numbers: set[int] = set()
    seen = 0
    for entry in flight.events:
        if isinstance(entry, FindingOpened):
            seen += 1
            assert entry.finding.number == seen
            open_numbers.add(seen)
        elif isinstance(entry, FindingChanged):
            # A watch that applies again and never held in between opens its finding again, by a change.
            (open_numbers.add if entry.finding.closed_s is None else open_numbers.discard)(
                entry.finding.number
            )
        elif isinstance(entry, Notice) and entry.finding:
            assert entry.finding in open_numbers
    assert seen == len(flight.judge.findings)
    for finding in flight.judge.findings:
        assert finding.closed_s is None or finding.closed_s >= finding.sim_s
        assert finding.lead_s is None or finding.lead_s >= 0
        assert finding.sentence


@settings(max_examples=60)
@given(STEPS)
def test_the_last_verdict_is_the_state(steps: list[tuple[float, dict[str, Value], str]]) -> None:
    """The last verdict of each item is its present one, and agrees with its condition."""
    flight = fly(steps)
    last = {entry.item: entry for entry in events_of(flight.events, VerdictChanged)}
    for name, state in flight.judge.snapshot().items.items():
        assert state.verdict is verdict_of(flight.condition_truth(name))
        assert (state.status is ItemStatus.MET) == (state.verdict is Verdict.MET)
        change = last.get(name)
        assert change is None or change.status is state.status
