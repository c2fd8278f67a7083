"""Checks a trip sheet against the items of the pack that compare its values.

An item belongs to the check if the subject of its comparison comes from the trip sheet:

    trip.v2 >= figure.v2_min       yes: the subject is a value of the trip sheet
    speeds.v2 = trip.v2            no: the subject is the value in the aeroplane, the trip sheet is the reference
    figure.takeoff_mass <= 60 t    yes, if its flow has an item of the first kind

The check runs on a judge of its own, with those items only and the aeroplane's state as it is now.  The session's judge is not
involved.

Takes: a pack; values of the trip sheet and the current samples.  Gives: `PlausibilityResult`s.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.judge.events import Verdict
from rules.judge.judge import Judge
from rules.judge.snapshot import ItemSnapshot, Snapshot
from rules.packs.condition_facts import compared_signals, reads_only_values, signals_read
from rules.packs.model import Flow, Item, Level, Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX, Frame, Quality, Sample, Value

PASSED = "passed"
VERDICT_WORDS = {Verdict.MET: PASSED, Verdict.UNMET: "failed", Verdict.UNKNOWN: "unknown"}
CHECK_VERDICTS = tuple(VERDICT_WORDS.values())


@dataclass(frozen=True, slots=True)
class PlausibilityResult:
    """The result of one item: `verdict` is passed, failed or unknown; `compared_signals` are of the trip sheet."""

    item: str
    label: str
    level: Level
    verdict: str
    sentence: str
    actual: str
    wanted: str
    why: str
    source: str
    compared_signals: tuple[str, ...]


class PlausibilityCheck:
    """The items of a pack that check the trip sheet, in a reduced pack that is built once."""

    def __init__(self, pack: Pack) -> None:
        """Select the items, and build the reduced pack."""
        reads = {figure.signal.name: figure.input_signals for figure in pack.figures}
        self._compared_signals = _trip_items(pack.items.values(), reads)
        items = {name: pack.items[name] for name in self._compared_signals}
        needed = _with_inputs(signals_read(*(item.condition for item in items.values())), reads)
        self._reduced_pack = _reduced(pack, items, needed)
        self._aircraft_signals = tuple(
            sorted(name for name in needed if not name.startswith((TRIP_PREFIX, FIGURE_PREFIX)))
        )

    @property
    def items(self) -> tuple[str, ...]:
        """The ids of the selected items."""
        return tuple(self._compared_signals)

    def samples_of(self, snapshot: Snapshot) -> tuple[Sample, ...]:
        """Select the samples of the aeroplane that the check needs."""
        return tuple(
            _steady_sample(snapshot.samples[name])
            for name in self._aircraft_signals
            if name in snapshot.samples
        )

    def judge(
        self, trip_values: Mapping[str, Value], samples: Sequence[Sample]
    ) -> tuple[PlausibilityResult, ...]:
        """Check trip values without any effect on the session; safe in another thread.

        Args:
            trip_values: by signal name, in the units of the signal book.
            samples: the samples of `samples_of`.

        Returns:
            The results in the order of the pack.
        """
        known = {name: value for name, value in trip_values.items() if name in self._reduced_pack.signals}
        judge = Judge(self._reduced_pack, TripSheet("", known), steady=True)
        judge.judge_frame(Frame("", 0.0, 0.0, 0, tuple(sample.name for sample in samples), samples))
        snapshot = judge.explained_snapshot()
        return tuple(self._result(snapshot.items[name]) for name in self._compared_signals)

    def _result(self, item: ItemSnapshot) -> PlausibilityResult:
        return PlausibilityResult(
            item.id,
            item.label,
            item.level,
            PASSED if item.satisfied else VERDICT_WORDS[item.verdict],
            item.sentence,
            item.actual,
            item.wanted,
            item.why,
            self._reduced_pack.items[item.id].source,
            self._compared_signals[item.id],
        )


def _steady_sample(sample: Sample) -> Sample:
    """Prepare a sample for a first frame; a stale sample counts as invalid."""
    if sample.quality is Quality.FRESH:
        return Sample(sample.name, sample.value, Quality.FRESH, 0.0)
    return Sample(sample.name, None, Quality.INVALID, 0.0)


def _reduced(pack: Pack, items: Mapping[str, Item], signals: Collection[str]) -> Pack:
    """Reduce a pack to these items, in one flow without gates, and to the signals and figures that they need."""
    flow = Flow("check", "Check", pack.phases[0].id, {next(iter(pack.seats)): tuple(items)})
    return replace(
        pack,
        signals={name: signal for name, signal in pack.signals.items() if name in signals},
        figures=tuple(figure for figure in pack.figures if figure.signal.name in signals),
        items=items,
        flows={flow.id: flow},
        checklists={},
        gates=(),
        watches=(),
        quiet_periods=(),
        traces=(),
        callouts=(),
    )


def _trip_items(
    items: Iterable[Item], figure_inputs: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """Select the items that check the trip sheet, with the trip values that each compares."""
    found = {
        item.id: tuple(name for name in compared_signals(item.condition) if name.startswith(TRIP_PREFIX))
        for item in items
        if _depends_on_trip(item, figure_inputs)
    }
    flows = {_flow(item) for item, compared in found.items() if compared}
    return {item: compared for item, compared in found.items() if _flow(item) in flows}


def _flow(item: str) -> str:
    """Return the flow or checklist in the full id of an item."""
    return item.rpartition(".")[0]


def _depends_on_trip(item: Item, figure_inputs: Mapping[str, tuple[str, ...]]) -> bool:
    """Check if an item compares only trip values and figures, and depends on at least one trip value."""
    if item.condition is None or not reads_only_values(item.condition):
        return False
    subjects = compared_signals(item.condition)
    if not subjects or not all(name.startswith((TRIP_PREFIX, FIGURE_PREFIX)) for name in subjects):
        return False
    inputs = _with_inputs(signals_read(item.condition), figure_inputs)
    return any(name.startswith(TRIP_PREFIX) for name in inputs)


def _with_inputs(names: Iterable[str], figure_inputs: Mapping[str, tuple[str, ...]]) -> set[str]:
    """Add the inputs of figures to these signals, recursively."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(figure_inputs.get(name, ()))
    return found
