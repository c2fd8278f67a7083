"""Random packs with a `*` in their items, lines and watches: both judges agree, and each match is judged by itself."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, reject, settings
from hypothesis import strategies as st

from rules.faults import InputFaults
from rules.judge.judge import Judge
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack, declared_id
from rules.signals.model import Frame, Quality, Sample, Value
from tests.rules.judge.batch.compare_batch import (
    JudgeInput,
    RequestInput,
    batch_events,
    live_events,
)
from tests.rules.judge.scripted_flight import FixedTripValues

PACK = """\
pack: {{id: random, title: Random, signals: [twin_jet, trip]}}
seats: {{captain: Captain}}
phases:
  stand: {{title: Stand, code: STD}}
  moving: {{title: Moving, code: TXI}}
calls:
  ready: {{title: ready, by: ground}}
flows:
  one:
    title: One
    phase: stand
    captain:
      - first: {}
        after: {}
        hold: 0 s
      - second: {}
        follows: [first]
      - third: flow.first is met or lights.beacon is on
checklists:
  one:
    title: One
    read_by: captain
    lines:
      - {{first: First, answer: seen, items: [flow.one.first]}}
      - line: Line
        answer: seen
        expect: {}
gates:
  go:
    phase: moving
    cue: call.ready happened
    entry: flight.ground_speed > 1 kt
    needs: [flow one, checklist one]
watches:
  watch:
    label: Watch *
    seat: captain
    applies: {}
    expect: {}
    hold: 0.5 s
"""
LEAVES = (
    "engine.*.fuel_lever is open",
    "ice.engine.* is on",
    "ice.engine.valve.* is open",
    "engine.*.n2 > 20 %",
    "engine.*.n2 > engine.*.n1",
    "lights.landing.* is on",
    "lights.beacon is on",
    "engine.*.fuel_lever became open within the last 1 s",
)
SIGNALS: dict[str, tuple[Value, ...]] = {
    **{f"engine.{n}.fuel_lever": ("closed", "open") for n in "12"},
    **{f"ice.engine.{n}": ("off", "on") for n in "12"},
    **{f"ice.engine.valve.{n}": ("closed", "open") for n in "12"},
    **{f"engine.{n}.n{k}": (0.0, 30.0, 60.0) for n in "12" for k in "12"},
    **{f"lights.landing.{side}": ("off", "on") for side in ("left", "right")},
    "lights.beacon": ("off", "on"),
    "flight.ground_speed": (0.0, 0.0, 0.0, 5.0),
}
PARTS = st.sampled_from(LEAVES) | st.builds("not ({})".format, st.sampled_from(LEAVES))
PARTS |= st.builds("any ({})".format, st.sampled_from(LEAVES[:4])) | st.builds(
    "(({}) for 0.5 s)".format, st.sampled_from(LEAVES)
)
TEXTS = PARTS | st.builds(
    "{} {} {}".format, PARTS, st.sampled_from(["and", "or"]), PARTS
) | st.builds("if {} then {}".format, PARTS, PARTS)  # fmt: skip
REQUESTS = st.builds(
    RequestInput,
    st.sampled_from(["waive", "undo_waiver"]),
    st.sampled_from(["flow.one.first", "flow.one.first.1", "checklist.one.line"]),
)


@st.composite
def packs(draw: st.DrawFn) -> Pack:
    """A pack with random conditions; some of them have a fault, but none that refuses the pack."""
    texts = [draw(TEXTS) for _ in range(6)]
    with TemporaryDirectory() as folder:
        path = Path(folder, "pack.yaml")
        path.write_text(PACK.format(*texts), encoding="utf-8")
        try:
            return load_pack(str(path))
        except InputFaults:
            reject()


@st.composite
def inputs(draw: st.DrawFn) -> list[JudgeInput]:
    """Frames with new values of some signals, calls and waivers."""
    now_s, drawn = 8.0, list[JudgeInput]()
    for number in range(draw(st.integers(2, 12))):
        if number and draw(st.integers(0, 5)) == 0:
            drawn.append(draw(REQUESTS))
        now_s += draw(st.sampled_from([0.25, 0.5, 1.0]))
        names = list(SIGNALS) if not number else draw(st.lists(st.sampled_from(list(SIGNALS)), unique=True))
        changes = [Sample(n, draw(st.sampled_from(SIGNALS[n])), Quality.FRESH, now_s) for n in names]
        calls = ("ready",) if draw(st.integers(0, 3)) == 0 else ()
        drawn.append(Frame("test", now_s, now_s, 0, tuple(SIGNALS), changes, calls))
    return drawn


@settings(max_examples=60, deadline=None)
@given(packs(), inputs())
def test_the_judges_agree(pack: Pack, entries: list[JudgeInput]) -> None:
    """Every event is the same in both judges."""
    assert batch_events(pack, FixedTripValues(), entries) == live_events(pack, FixedTripValues(), entries)


@settings(max_examples=60, deadline=None)
@given(packs(), inputs())
def test_a_line_and_a_gate_need_all_matches(pack: Pack, entries: list[JudgeInput]) -> None:
    """The line that reads an item is met exactly while all matches of the item are."""
    judge = Judge(pack, FixedTripValues())
    for entry in entries:
        if isinstance(entry, RequestInput):
            entry.apply(judge)
        elif isinstance(entry, Frame):
            judge.judge_frame(entry)
        snapshot = judge.snapshot()
        matches = [one for name, one in snapshot.items.items() if declared_id(name) == "flow.one.first"]
        line = snapshot.checklists["one"].lines[0]
        assert list(line.items) == matches
        assert line.satisfied == all(one.satisfied for one in matches)
        assert {one.id for one in matches} <= {need.id for need in snapshot.gates["go"].needs}
