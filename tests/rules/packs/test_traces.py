"""Traces in packs: loading, defaults, and faults with place and hint."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.model import TraceLimit
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_faults, load_text

TRACES = """\
traces:
  start:
    title: Start
    begins: engine.1.start_valve is open
    ends: engine.1.n2 > 57 %
    signals: [engine.1.n2, engine.1.egt, gear.brake_accumulator, engine.1.fuel_lever]
    every: 0.25 s
    longest: 2 min
    limits:
      - {signal: gear.brake_accumulator, limit: accumulator_low}
      - {signal: engine.1.egt, limit: 1013 K, label: hot}
    marks:
      - {label: turning, when: engine.1.n2 > 3 %}
"""
LINES = COMPLETE_PACK.count("\n")


def test_a_trace_is_read(tmp_path: Path) -> None:
    """Times are in seconds, limits in the unit of their signal, with their own or the limit's label."""
    (trace,) = load_text(tmp_path, COMPLETE_PACK + TRACES).traces
    assert (trace.id, trace.title, trace.interval_s, trace.max_duration_s) == (
        "trace.start",
        "Start",
        0.25,
        120.0,
    )
    assert trace.signals == ("engine.1.n2", "engine.1.egt", "gear.brake_accumulator", "engine.1.fuel_lever")
    assert trace.limits[0] == TraceLimit("gear.brake_accumulator", 2600.0, "least brake pressure")
    assert trace.limits[1].label == "hot"
    assert trace.limits[1].value == pytest.approx(739.85)
    assert [mark.label for mark in trace.marks] == ["turning"]


def test_by_default_it_is_evidence_for_watches_of_its_signals(tmp_path: Path) -> None:
    """Without names of its own, a trace is evidence for the watches that read its signals."""
    beacon = TRACES.replace("engine.1.fuel_lever]", "lights.beacon]")
    (trace,) = load_text(tmp_path, COMPLETE_PACK + beacon).traces
    assert trace.evidence_for == {"watch.beacon"}
    named = TRACES + "    evidence_for: [flow.before_start.beacon]\n"
    (trace,) = load_text(tmp_path, COMPLETE_PACK + named).traces
    assert trace.evidence_for == {"flow.before_start.beacon"}
    (trace,) = load_text(tmp_path, COMPLETE_PACK + TRACES).traces
    assert trace.evidence_for == frozenset()


CASES: list[tuple[str, str, list[str]]] = [
    ("    title: Start\n", "", ["2:3: title is missing"]),
    ("signals: [engine.1.n2,", "signals: [engine.1.n3,", ["6:15: unknown signal engine.1.n3 | did you mean engine.1.n2?"]),
    ("signals: [engine.1.n2,", "signals: [engine.1.egt, engine.1.n2,", ["6:42: engine.1.egt is listed twice, expected each signal once"]),
    ("every: 0.25 s", "every: 0 s", ["7:12: sampling interval is 0 s, expected more than 0 s"]),
    ("every: 0.25 s", "every: -1 s", ["7:12: -1 s is not a time that can be waited for, expected 0 s to 60 min"]),
    ("every: 0.25 s", "every: 0.25", ["7:12: 0.25 is not a time, expected a number with s or min | write 0.25 s"]),
    ("    longest: 2 min\n", "", ["2:3: longest is missing"]),
    ("longest: 2 min", "longest: 0.1 s", ["8:14: maximum duration is shorter than the sampling interval, expected a longer time"]),
    ("every: 0.25 s\n    longest: 2 min", "every: 0.01 s\n    longest: 60 min",
     ["8:14: 360000 samples of 4 signals, expected at most 200000 values in a trace | a shorter longest, or a longer every"]),
    ("limit: accumulator_low", "limit: accumulator_lo",
     ["10:49: unknown limit accumulator_lo, expected the name of a limit, or a number with its unit | did you mean accumulator_low?"]),
    ("limit: 1013 K", "limit: 1013 kelvn", ["11:39: unknown unit kelvn, expected a unit that Pint knows"]),
    ("limit: 1013 K", "limit: 40 psi", ["11:39: psi does not convert to degC, expected a unit such as degC"]),
    ("signal: engine.1.egt, limit: 1013 K", "signal: engine.1.fuel_lever, limit: 3",
     ["11:46: engine.1.fuel_lever is not a number, expected the limit of a signal that is a number"]),
    ("signal: engine.1.egt, limit", "signal: engine.2.egt, limit",
     ["11:18: unknown signal of the trace engine.2.egt | did you mean engine.1.egt?"]),
    ("ends: engine.1.n2 > 57 %", "ends: engine.1.start_valve is open", ["5:11: begin and end conditions are the same, expected another condition"]),
    ("longest: 2 min", "longest: 2 min\n    evidence_for: [watch.becon]", ["9:20: unknown watch or item watch.becon | did you mean watch.beacon?"]),
    ("longest: 2 min", "longest: 2 min\n    evry: 1 s", ["9:5: unknown key evry"]),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "faults"), CASES)
def test_each_mistake_alone(tmp_path: Path, old: str, new: str, faults: list[str]) -> None:
    """One mistake gives its own fault at its place, with a hint where there is one."""
    assert old in TRACES
    found = load_faults(tmp_path, COMPLETE_PACK + TRACES.replace(old, new))
    placed = [f"{int(fault.split(':')[0]) - LINES}:{fault.split(':', 1)[1]}" for fault in found]
    assert [got.startswith(want) for got, want in zip(placed, faults, strict=True)] == [True] * len(faults), (
        placed
    )


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ("ends: engine.1.n2 > 57 %", "ends: engine.1.n2 > 570 %", "this is never true"),
        ("begins: engine.1.start_valve is open", "begins: engine.1.start_valve is opne", "did you mean open"),
        ("when: engine.1.n2 > 3 %", "when: engine.1.n2 > 3 kg", "kg"),
    ],
)
def test_a_condition_that_is_wrong_is_reported_and_the_rest_runs(
    tmp_path: Path, old: str, new: str, part: str
) -> None:
    """A trace's faulty condition is reported at its place, and the rest works."""
    text = COMPLETE_PACK + TRACES.replace(old, new)
    line = text[: text.index(new)].count("\n") + 1
    pack = load_text(tmp_path, text)
    (fault,) = pack.faults
    assert part in str(fault)
    assert fault.place.line == line


def test_another_pack_changes_adds_and_takes_out(tmp_path: Path) -> None:
    """Keys of a trace are replaced under its id, new traces added, others removed."""
    base, over = tmp_path / "base", tmp_path / "over"
    base.mkdir()
    over.mkdir()
    second = TRACES.replace("traces:\n", "").replace("  start:", "  other:")
    (base / "p.yaml").write_text(COMPLETE_PACK + TRACES + second, encoding="utf-8")
    (over / "p.yaml").write_text(
        "pack: {id: over, title: Over, extends: ../base}\ntraces:\n"
        "  start: {every: 1 s}\n  other: {remove: true}\n"
        "  new: {title: New, begins: lights.beacon is on, ends: lights.beacon is off, signals: [fuel.total], every: 1 s, longest: 5 s}\n",
        encoding="utf-8",
    )
    traces = {trace.id: trace for trace in load_pack(str(over)).traces}
    assert list(traces) == ["trace.start", "trace.new"]
    assert traces["trace.start"].interval_s == 1.0
    assert traces["trace.start"].title == "Start"


@pytest.mark.parametrize("name", ["twin_jet", "trainer"])
def test_the_shipped_packs_have_traces(name: str) -> None:
    """Each shipped pack has traces of its starts and others, bounded and without faults."""
    pack = load_pack(name)
    assert pack.faults == ()
    assert any("tart" in trace.title for trace in pack.traces)
    assert all(trace.signals and trace.marks for trace in pack.traces)
