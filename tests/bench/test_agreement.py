"""Tests that every peer gives our truth values on a flight, since a comparison of speed needs equal results."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice
from typing import Any

import msgspec
import pytest

from rules.judge.events import JudgeEvent
from rules.judge.judge import Judge
from rules.language.checked_tree import Not
from rules.packs.model import Pack
from rules.signals.model import SignalKind
from tests.bench import measure, memory
from tests.bench.flight_frames import RATE_HZ, FlightFrames, conditions_without_figures
from tests.bench.measure import DisagreementError, PlainRun, TemporalRun
from tests.bench.peers import HandWritten
from tests.bench.pipeline import FORMATS, Pipeline, datagrams
from tests.bench.temporal import temporal_conditions
from tests.bench.translate import plain_conditions


@pytest.mark.usefixtures("peers")
def test_peers_agree_on_conditions_without_time(rough: FlightFrames) -> None:
    """Python, rule-engine and CEL give our truth value for each condition of the pack in every frame they judge."""
    run = PlainRun(rough, every=12)
    run.run(passes=1)
    judged = {name: len(series.best_ns) for name, series in run.peers.items()}
    assert judged == {"hand-written Python": 199, "rule-engine": 17, "cel-python": 17}
    assert run.compared == len(run.conditions) * sum(judged.values())


@pytest.mark.usefixtures("peers")
def test_rtamt_agrees_on_conditions_about_time(rough: FlightFrames) -> None:
    """The monitors of rtamt give our truth value where both have one, in most of the frames."""
    run = TemporalRun(rough)
    run.run(passes=1)
    assert run.compared + run.skipped == len(run.conditions) * 199
    assert run.compared > 0.7 * len(run.conditions) * 199


def test_most_of_the_pack_is_compared(rough: FlightFrames) -> None:
    """At least nine in ten of the pack's conditions are compared, without time or with time."""
    every = conditions_without_figures(rough.pack)
    compared = plain_conditions(every).keys() | temporal_conditions(rough.pack).keys()
    assert len(every.keys() - compared) <= 0.1 * len(every)


def test_a_wrong_peer_is_found(rough: FlightFrames, monkeypatch: pytest.MonkeyPatch) -> None:
    """A peer with one negated condition stops the benchmark."""

    class Wrong(HandWritten):
        def __init__(self, conditions: Mapping[str, Any], values: Mapping[str, Any]) -> None:
            first = next(iter(conditions))
            super().__init__({**conditions, first: Not(conditions[first])}, values)

    monkeypatch.setattr(measure, "PEERS", (Wrong,))
    with pytest.raises(DisagreementError, match="hand-written Python gives"):
        PlainRun(rough, every=1).run(passes=1)


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_is_judged_alike(rough: FlightFrames, form: str) -> None:
    """The bytes of each format give the same events as the frames themselves."""
    judge, pipeline = Judge(rough.pack, rough.trip), Pipeline(rough, form)
    expected = [event for frame in rough.frames for event in judge.judge_frame(frame)]
    found = [event for sim_s, data in datagrams(rough, form) for piece in data for event in pipeline.process(piece, sim_s)]  # fmt: skip
    excluded = items_with_text(rough.pack) if form == "packed_struct" else frozenset()
    assert without_items(found, excluded) == without_items(expected, excluded)
    assert len(expected) > 500


def items_with_text(pack: Pack) -> frozenset[str]:
    """List the items that read a text; an empty text is no value in a packed record, so these differ."""
    texts = {name for name, signal in pack.signals.items() if signal.kind is SignalKind.TEXT}
    return frozenset(item.id for item in pack.items.values() if texts.intersection(item.signals))


def without_items(events: list[JudgeEvent], excluded: frozenset[str]) -> list[JudgeEvent]:
    """Leave out the events of some items."""
    return [event for event in events if getattr(event, "item", "") not in excluded]


def test_endless_datagrams_repeat_the_flight(rough: FlightFrames) -> None:
    """The memory run's datagrams repeat the flight, with a time and a number that continue."""
    part = rough.part(0, 5)
    records = [msgspec.msgpack.decode(data) for _, data in islice(memory.endless_datagrams(part), 12)]
    assert [record["time"] for record in records] == [number / RATE_HZ for number in range(12)]
    assert [record["sequence"] - records[0]["sequence"] for record in records] == list(range(12))
    fields = [{n: v for n, v in r.items() if n not in ("time", "sequence")} for r in records]
    assert fields[5:10] == fields[:5]


def test_memory_is_flat(rough: FlightFrames) -> None:
    """Once the windows of time are full, a thousand frames add less than 16 kB: no object, not even a number, stays for each."""
    assert any(growth < 16 * 1000 for growth in memory.python_growth(rough.part(0, 40), 1000, rounds=10))
