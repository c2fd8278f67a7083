"""Which of a pack's expectations are about the papers themselves, and a trial of papers against them.

An expectation is about the papers where what it compares is a paper: "V2 of the sheet is at least the least V2", not "V2
entered is V2 of the sheet"; or a figure that hangs on papers, in a flow with others of the first sort.  A trial is a small core with those alone, on a still
picture of the aeroplane as it is now; the watch's own core does not hear of it.

Takes: a pack; papers and the present samples.  Gives: `Trial`s.
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
YES = "yes"
VERDICT_WORDS = {Verdict.MET: YES, Verdict.UNMET: "no", Verdict.UNKNOWN: "unknown"}


@dataclass(frozen=True, slots=True)
class PlausibilityResult:
    """One expectation with these papers: `answer` is yes, no or unknown; `about` are the papers that it compares."""

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
    """The pack's expectations about papers, ready to be tried; the pack without the rest is made once."""

    def __init__(self, pack: Pack) -> None:
        """Pick them out."""
        reads = {figure.signal.name: figure.input_signals for figure in pack.figures}
        self._compared_signals = _trip_items(pack.items.values(), reads)
        items = {name: pack.items[name] for name in self._compared_signals}
        behind = _with_inputs(_signals_of(items.values()), reads)
        self._reduced_pack = _reduced(pack, items, behind)
        self._aircraft_signals = tuple(
            sorted(name for name in behind if not name.startswith((TRIP_PREFIX, FIGURE_PREFIX)))
        )

    @property
    def items(self) -> tuple[str, ...]:
        """The ids of what is tried."""
        return tuple(self._compared_signals)

    def snapshot(self, state: SignalState) -> tuple[Sample, ...]:
        """What a trial needs of the aeroplane as it is now, so that it can be made while the aeroplane flies on."""
        return tuple(
            _steady_sample(state.sample(name)) for name in self._aircraft_signals if state.has_sample(name)
        )

    def judge(
        self, trip_values: Mapping[str, Value], snapshot: Sequence[Sample]
    ) -> tuple[PlausibilityResult, ...]:
        """Judge papers, without anybody hearing of it; may be done in another thread.

        Args:
            trip_values: by signal name, in the book's units.
            snapshot: of `picture`.

        Returns:
            In the order of the pack.
        """
        known = {name: value for name, value in trip_values.items() if name in self._reduced_pack.signals}
        core = Judge(self._reduced_pack, TripSheet("", known), steady=True)
        core.judge_frame(Frame("", 0.0, 0.0, 0, tuple(sample.name for sample in snapshot), snapshot))
        return tuple(self._result(core, name) for name in self._compared_signals)

    def _result(self, core: Judge, name: str) -> PlausibilityResult:
        state = core.items.states[name]
        item, reason = state.item, core.items.reason(state)
        actual, wanted = actual_and_wanted(reason)
        answer = YES if state.satisfied else VERDICT_WORDS[verdict_of(state.truth)]
        return PlausibilityResult(
            name,
            item.label,
            item.level,
            answer,
            reason.sentence,
            actual,
            wanted,
            item.why,
            item.source,
            self._compared_signals[name],
        )


def _steady_sample(sample: Sample) -> Sample:
    """A sample as the first frame of a core has it; one that is too old is as good as none."""
    if sample.quality is Quality.FRESH:
        return Sample(sample.name, sample.value, Quality.FRESH, 0.0)
    return Sample(sample.name, None, Quality.INVALID, 0.0)


def _reduced(pack: Pack, items: Mapping[str, Item], signals: Collection[str]) -> Pack:
    """A pack with these items alone, and the signals and figures behind them; one flow holds them, no gate needs them."""
    flow = Flow("tried", "Tried", pack.phases[0].id, {next(iter(pack.seats)): tuple(items)})
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
    """The items that are about papers, with the papers that each compares."""
    found = {
        item.id: tuple(
            name for name in dict.fromkeys(_compared(item.condition)) if name.startswith(TRIP_PREFIX)
        )
        for item in items
        if item.condition is not None and _depends_on_trip(item.condition, figure_inputs)
    }
    flows = {_flow(item) for item, papers in found.items() if papers}
    return {item: papers for item, papers in found.items() if _flow(item) in flows}


def _flow(item: str) -> str:
    """The flow or checklist of an item's whole id."""
    return item.rpartition(".")[0]


def _depends_on_trip(condition: checked_tree.Condition, figure_inputs: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether all that a condition compares is papers and figures, and papers stand behind it."""
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
    """The signals that are compared with something, as far as they stand first; what only says when does not count."""
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
    """These signals, and all that figures among them are worked out from."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(figure_inputs.get(name, ()))
    return found


def _signals_of(items: Iterable[Item]) -> Iterator[str]:
    """The signals that these items read."""
    for item in items:
        if item.condition is not None:
            yield from signal_names(item.condition)
