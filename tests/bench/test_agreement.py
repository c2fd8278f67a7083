"""A wrong peer is no peer: every peer gives our truths on a flight, before anything is measured against it."""

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
    """Python, rule-engine and CEL give our truth for each of the pack's conditions, in every frame they judge."""
    run = PlainRun(rough, every=12)
    run.run(passes=1)
    judged = {name: len(series.best_ns) for name, series in run.peers.items()}
    assert judged == {"hand-written Python": 199, "rule-engine": 17, "cel-python": 17}
    assert run.compared == len(run.conditions) * sum(judged.values())


@pytest.mark.usefixtures("peers")
def test_rtamt_agrees_on_conditions_about_time(rough: FlightFrames) -> None:
    """The monitors of rtamt give our truth wherever both have one, which is nearly everywhere and both ways."""
    run = TemporalRun(rough)
    run.run(passes=1)
    assert run.compared + run.passed_over == len(run.conditions) * 199
    assert run.compared > 0.7 * len(run.conditions) * 199


def test_most_of_the_pack_is_compared(rough: FlightFrames) -> None:
    """Nine in ten of the pack's conditions stand among those without time or those about time."""
    every = conditions_without_figures(rough.pack)
    kept = plain_conditions(every).keys() | temporal_conditions(rough.pack).keys()
    assert len(every.keys() - kept) <= 0.1 * len(every)


def test_a_wrong_peer_is_found(rough: FlightFrames, monkeypatch: pytest.MonkeyPatch) -> None:
    """A peer that has one condition the wrong way round stops the benchmark."""

    class Wrong(HandWritten):
        def __init__(self, conditions: Mapping[str, Any], values: Mapping[str, Any]) -> None:
            first = next(iter(conditions))
            super().__init__({**conditions, first: Not(conditions[first])}, values)

    monkeypatch.setattr(measure, "PEERS", (Wrong,))
    with pytest.raises(DisagreementError, match="hand-written Python gives"):
        PlainRun(rough, every=1).run(passes=1)


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_is_judged_alike(rough: FlightFrames, form: str) -> None:
    """From the bytes of each format come the same entries as from the frames themselves."""
    core, chain = Judge(rough.pack, rough.trip), Pipeline(rough, form)
    wanted = [entry for frame in rough.frames for entry in core.judge_frame(frame)]
    found = [entry for sim_s, data in datagrams(rough, form) for piece in data for entry in chain.process(piece, sim_s)]  # fmt: skip
    left_out = of_text(rough.pack) if form == "packed_struct" else frozenset()
    assert told(found, left_out) == told(wanted, left_out)
    assert len(wanted) > 500


def of_text(pack: Pack) -> frozenset[str]:
    """Items that read a text: it is empty at first, and in a packed record an empty text is no value."""
    texts = {name for name, signal in pack.signals.items() if signal.kind is SignalKind.TEXT}
    return frozenset(item.id for item in pack.items.values() if texts.intersection(item.signals))


def told(entries: list[JudgeEvent], left_out: frozenset[str]) -> list[JudgeEvent]:
    """Entries, but for those on some items."""
    return [entry for entry in entries if getattr(entry, "item", "") not in left_out]


def test_rounds_go_on(rough: FlightFrames) -> None:
    """The memory run's datagrams are the flight's, round and round, with a clock and a count that go on."""
    part = rough.part(0, 5)
    records = [msgspec.msgpack.decode(data) for _, data in islice(memory.endless_datagrams(part), 12)]
    assert [record["time"] for record in records] == [number / RATE_HZ for number in range(12)]
    assert [record["sequence"] - records[0]["sequence"] for record in records] == list(range(12))
    strip = [{n: v for n, v in r.items() if n not in ("time", "sequence")} for r in records]
    assert strip[5:10] == strip[:5]


def test_memory_is_flat(rough: FlightFrames) -> None:
    """A thousand frames more leave no more than a few kilobytes of Python's objects behind: none is kept for each frame."""
    assert memory.python_growth(rough.part(0, 40), 1000) < 64 * 1000
