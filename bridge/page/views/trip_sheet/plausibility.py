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

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.judge.events import Verdict
from rules.judge.items import verdict_of
from rules.judge.judge import Judge
from rules.judge.wording import actual_and_wanted
from rules.language import checked_tree
from rules.language.traversal import signal_names, signals_in, walk
from rules.packs.model import Flow, Item, Level, Pack
from rules.packs.trip_sheet import TRIP_PREFIX, TripSheet
from rules.signals.model import Frame, Quality, Sample, Value
from rules.signals.state import SignalState

FIGURE_PREFIX = "figure."
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
        needed = _with_inputs(_signals_of(items.values()), reads)
        self._reduced_pack = _reduced(pack, items, needed)
        self._aircraft_signals = tuple(
            sorted(name for name in needed if not name.startswith((TRIP_PREFIX, FIGURE_PREFIX)))
        )

    @property
    def items(self) -> tuple[str, ...]:
        """The ids of the selected items."""
        return tuple(self._compared_signals)

    def snapshot(self, state: SignalState) -> tuple[Sample, ...]:
        """Copy the samples of the aeroplane that the check needs, so that it can run in another thread."""
        return tuple(
            _steady_sample(state.sample(name)) for name in self._aircraft_signals if state.has_sample(name)
        )

    def judge(
        self, trip_values: Mapping[str, Value], snapshot: Sequence[Sample]
    ) -> tuple[PlausibilityResult, ...]:
        """Check trip values without any effect on the session; safe in another thread.

        Args:
            trip_values: by signal name, in the units of the signal book.
            snapshot: the samples of `snapshot`.

        Returns:
            The results in the order of the pack.
        """
        known = {name: value for name, value in trip_values.items() if name in self._reduced_pack.signals}
        judge = Judge(self._reduced_pack, TripSheet("", known), steady=True)
        judge.judge_frame(Frame("", 0.0, 0.0, 0, tuple(sample.name for sample in snapshot), snapshot))
        return tuple(self._result(judge, name) for name in self._compared_signals)

    def _result(self, judge: Judge, name: str) -> PlausibilityResult:
        state = judge.items.states[name]
        item, reason = state.item, judge.items.reason(state)
        actual, wanted = actual_and_wanted(reason)
        verdict = PASSED if state.satisfied else VERDICT_WORDS[verdict_of(state.truth)]
        return PlausibilityResult(
            name,
            item.label,
            item.level,
            verdict,
            reason.sentence,
            actual,
            wanted,
            item.why,
            item.source,
            self._compared_signals[name],
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
        item.id: tuple(
            name for name in dict.fromkeys(_compared(item.condition)) if name.startswith(TRIP_PREFIX)
        )
        for item in items
        if item.condition is not None and _depends_on_trip(item.condition, figure_inputs)
    }
    flows = {_flow(item) for item, compared in found.items() if compared}
    return {item: compared for item, compared in found.items() if _flow(item) in flows}


def _flow(item: str) -> str:
    """Return the flow or checklist in the full id of an item."""
    return item.rpartition(".")[0]


def _depends_on_trip(condition: checked_tree.Condition, figure_inputs: Mapping[str, tuple[str, ...]]) -> bool:
    """Check if a condition compares only trip values and figures, and depends on at least one trip value."""
    if any(
        isinstance(node, checked_tree.ItemMet | checked_tree.CallEvent | checked_tree.FaultyCondition)
        for node in walk(condition)
    ):
        return False
    subjects = list(_compared(condition))
    if not subjects or not all(name.startswith((TRIP_PREFIX, FIGURE_PREFIX)) for name in subjects):
        return False
    return any(name.startswith(TRIP_PREFIX) for name in _with_inputs(signal_names(condition), figure_inputs))


def _compared(condition: checked_tree.Condition) -> Iterator[str]:
    """Yield the subjects of the comparisons; the conditions that only restrict the time do not count."""
    match condition:
        case checked_tree.Relation():
            yield from (signal.name for signal in signals_in(condition.left))
        case checked_tree.Between() | checked_tree.WithinTolerance():
            yield from (signal.name for signal in signals_in(condition.term))
        case checked_tree.WordIs():
            yield condition.signal.name
        case checked_tree.SameWord():
            yield condition.left.name
        case checked_tree.And() | checked_tree.Or():
            for part in condition.parts:
                yield from _compared(part)
        case checked_tree.Implies():
            yield from _compared(condition.then)
        case checked_tree.Not() | checked_tree.TimedHistorically():
            yield from _compared(condition.part)


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


def _signals_of(items: Iterable[Item]) -> Iterator[str]:
    """Yield the signals that these items read."""
    for item in items:
        if item.condition is not None:
            yield from signal_names(item.condition)
