"""What must hold for any flight: quiet, the same twice, every notice on the record, every finding closed once."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.judge.entries import FindingChanged, FindingOpened, Life, Notice, VerdictChanged
from rules.language import checked as c
from rules.packs.model import Level, Quiet, Watch
from rules.signals.model import Value
from tests.rules.judge.making import (
    BEACON,
    HEADING,
    LIGHT,
    MODE,
    PROBE,
    PUMP,
    Flight,
    Rules,
    above,
    called,
    go,
    item,
    on,
    only,
    push,
    replace,
)

HOLD_S = 1.0
GAPS = st.floats(0.05, 0.9)
"""Shorter than the hold and the clear time."""


def rules() -> Rules:
    """A pack in which everything can happen."""
    beacon, pump = item("beacon", on(BEACON)), replace(item("pump", on(PUMP)), after=called("ground_clear"))
    probe = replace(item("probe", c.Held(on(PROBE), 1.5)), follows=(beacon.id,))
    mode = item("mode", c.WordIs(MODE, ("on",)), level=Level.WARNING)
    watch = Watch("w", "Light", "captain", Level.CAUTION, on(BEACON), on(LIGHT), hold_s=1.0)
    needs = [beacon.id, pump.id, probe.id, mode.id]
    return Rules(
        [beacon, pump, probe, mode],
        gates=[replace(push(needs), cue=above(HEADING, 10)), replace(go(needs[:2]), cue=called("ready"))],
        watches=[watch],
        quiets=[Quiet("q", above(HEADING, 50), (Level.CAUTION,))],
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


def fly(steps: list[tuple[float, dict[str, Value], str]]) -> Flight:
    """Fly these steps: seconds since the last, what changes, and a call, a silence or a jump back."""
    flight = Flight(rules())
    flight.at(0.0)
    for dt_s, values, what in steps:
        now_s = flight.core.session.sim_s + dt_s
        if what == "!reset":
            flight.jump(dt_s, **values)
        elif what == "!gap":
            flight.gap(now_s, flight.core.session.state.recv_s + 30.0)
        else:
            flight.at(now_s, [what] if what else [], **values)
    return flight


@given(st.lists(st.tuples(GAPS, st.sampled_from(["beacon", "pump"])), min_size=1, max_size=60))
def test_flapping_faster_than_the_hold_gives_no_notice(flips: list[tuple[float, str]]) -> None:
    """Items that never stay unmet for their hold, nor done for it, are neither found nor told."""
    items = [
        replace(item(n, on(s)), hold_s=HOLD_S, clear_s=HOLD_S)
        for n, s in (("beacon", BEACON), ("pump", PUMP))
    ]
    flight = Flight(Rules(items))
    flight.at(0.0, beacon="on", pump="on")
    flight.at(2.0, ["ready"])
    now_s = 2.0
    for gap_s, name in flips:
        now_s += gap_s
        # Whatever is off goes on again: nothing is ever off for longer than one gap.
        values: dict[str, Value] = {
            n: "on" if flight.values[n] == "off" else flight.values[n] for n in ("beacon", "pump")
        }
        values[name] = "off" if flight.values[name] == "on" else "on"
        flight.at(now_s, (), **values)
    assert only(flight.entries, Notice) == []
    assert flight.core.findings == []


@given(st.lists(GAPS, min_size=1, max_size=60))
def test_mended_for_less_than_the_clear_time_is_told_once(gaps: list[float]) -> None:
    """While an item flaps faster than its clear time, its finding stays one finding."""
    flight = Flight(Rules([item("beacon", on(BEACON))]))
    flight.at(0.0)
    flight.at(1.0, ["ready"])
    flight.at(2.5)
    now_s = 2.5
    for number, gap_s in enumerate(gaps):
        now_s += gap_s
        flight.at(now_s, beacon="off" if number % 2 else "on")
    assert len(flight.core.findings) == 1
    times = [n.sim_s for n in only(flight.entries, Notice)]
    assert all(later - sooner >= 30.0 for sooner, later in itertools.pairwise(times))


@settings(max_examples=60)
@given(STEPS)
def test_the_same_twice(steps: list[tuple[float, dict[str, Value], str]]) -> None:
    """Any flight, flown twice, gives equal entries and an equal picture."""
    first, second = fly(steps), fly(steps)
    assert first.entries == second.entries
    assert first.core.picture() == second.core.picture()


@settings(max_examples=60)
@given(STEPS)
def test_the_record_is_sound(steps: list[tuple[float, dict[str, Value], str]]) -> None:
    """Findings are numbered in order, open once, close once at most, and every notice names one that is open."""
    flight = fly(steps)
    open_numbers: set[int] = set()
    seen = 0
    for entry in flight.entries:
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
    assert seen == len(flight.core.findings)
    for finding in flight.core.findings:
        assert finding.closed_s is None or finding.closed_s >= finding.sim_s
        assert finding.lead_s is None or finding.lead_s >= 0
        assert finding.sentence


@settings(max_examples=60)
@given(STEPS)
def test_the_record_tells_the_state(steps: list[tuple[float, dict[str, Value], str]]) -> None:
    """The last verdict of each item on the record is how it stands, and agrees with its condition."""
    flight = fly(steps)
    last = {entry.item: entry for entry in only(flight.entries, VerdictChanged)}
    for name, state in flight.core.items.states.items():
        assert state.truth is flight.core.session.monitors.truth(name)
        assert (state.life is Life.MET) == (state.truth is True)
        said = last.get(name)
        assert said is None or said.life is state.life
