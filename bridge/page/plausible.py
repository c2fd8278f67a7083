"""Which of a pack's expectations are about the papers themselves, and a trial of papers against them.

An expectation is about the papers where what it compares is a paper: "V2 of the sheet is at least the least V2", not "V2
entered is V2 of the sheet"; or a figure that hangs on papers, in a flow with others of the first sort.  A trial is a small core with those alone, on a still
picture of the aeroplane as it is now; the watch's own core does not hear of it.

Takes: a pack; papers and the present samples.  Gives: `Trial`s.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.judge.core import Core
from rules.judge.entries import Verdict
from rules.judge.items import verdict_of
from rules.judge.wording import evidence
from rules.language import checked
from rules.language.check import signals_of
from rules.language.check.walk import walk
from rules.language.explain.terms import signals_in
from rules.packs.model import Flow, Item, Level, Pack
from rules.packs.trip import PREFIX, Trip
from rules.signals.model import Frame, Quality, Sample, Value
from rules.signals.state import State

FIGURE = "figure."
YES = "yes"
ANSWERS = {Verdict.MET: YES, Verdict.UNMET: "no", Verdict.UNKNOWN: "unknown"}


@dataclass(frozen=True, slots=True)
class Judgement:
    """One expectation with these papers: `answer` is yes, no or unknown; `about` are the papers that it compares."""

    item: str
    label: str
    level: Level
    answer: str
    sentence: str
    actual: str
    wanted: str
    why: str
    source: str
    about: tuple[str, ...]


class Trial:
    """The pack's expectations about papers, ready to be tried; the pack without the rest is made once."""

    def __init__(self, pack: Pack) -> None:
        """Pick them out."""
        reads = {figure.signal.name: figure.reads for figure in pack.figures}
        self._about = _about_papers(pack.items.values(), reads)
        items = {name: pack.items[name] for name in self._about}
        behind = _all_behind(_read_by(items.values()), reads)
        self._small = _only(pack, items, behind)
        self._needed = tuple(sorted(name for name in behind if not name.startswith((PREFIX, FIGURE))))

    @property
    def items(self) -> tuple[str, ...]:
        """The ids of what is tried."""
        return tuple(self._about)

    def picture(self, state: State) -> tuple[Sample, ...]:
        """What a trial needs of the aeroplane as it is now, so that it can be made while the aeroplane flies on."""
        return tuple(_still(state.sample(name)) for name in self._needed if state.seen(name))

    def judge(self, papers: Mapping[str, Value], picture: Sequence[Sample]) -> tuple[Judgement, ...]:
        """Judge papers, without anybody hearing of it; may be done in another thread.

        Args:
            papers: by signal name, in the book's units.
            picture: of `picture`.

        Returns:
            In the order of the pack.
        """
        known = {name: value for name, value in papers.items() if name in self._small.signals}
        core = Core(self._small, Trip("", known), steady=True)
        core.frame(Frame("", 0.0, 0.0, 0, tuple(sample.name for sample in picture), picture))
        return tuple(self._judgement(core, name) for name in self._about)

    def _judgement(self, core: Core, name: str) -> Judgement:
        state = core.items.states[name]
        item, reason = state.item, core.items.reason(state)
        actual, wanted = evidence(reason)
        answer = YES if state.good else ANSWERS[verdict_of(state.truth)]
        return Judgement(
            name,
            item.label,
            item.level,
            answer,
            reason.sentence,
            actual,
            wanted,
            item.why,
            item.source,
            self._about[name],
        )


def _still(sample: Sample) -> Sample:
    """A sample as the first frame of a core has it; one that is too old is as good as none."""
    if sample.quality is Quality.FRESH:
        return Sample(sample.name, sample.value, Quality.FRESH, 0.0)
    return Sample(sample.name, None, Quality.INVALID, 0.0)


def _only(pack: Pack, items: Mapping[str, Item], signals: Collection[str]) -> Pack:
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
        quiets=(),
        strips=(),
        callouts=(),
    )


def _about_papers(
    items: Iterable[Item], figures: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """The items that are about papers, with the papers that each compares."""
    found = {
        item.id: tuple(name for name in dict.fromkeys(_subjects(item.condition)) if name.startswith(PREFIX))
        for item in items
        if item.condition is not None and _hangs_on_papers(item.condition, figures)
    }
    flows = {_flow(item) for item, papers in found.items() if papers}
    return {item: papers for item, papers in found.items() if _flow(item) in flows}


def _flow(item: str) -> str:
    """The flow or checklist of an item's whole id."""
    return item.rpartition(".")[0]


def _hangs_on_papers(condition: checked.Condition, figures: Mapping[str, tuple[str, ...]]) -> bool:
    """Whether all that a condition compares is papers and figures, and papers stand behind it."""
    if any(isinstance(node, checked.ItemMet | checked.CallMade | checked.Broken) for node in walk(condition)):
        return False
    subjects = list(_subjects(condition))
    if not subjects or not all(name.startswith((PREFIX, FIGURE)) for name in subjects):
        return False
    return any(name.startswith(PREFIX) for name in _all_behind(signals_of(condition), figures))


def _subjects(condition: checked.Condition) -> Iterator[str]:
    """The signals that are compared with something, as far as they stand first; what only says when does not count."""
    match condition:
        case checked.Relation():
            yield from (signal.name for signal in signals_in(condition.left))
        case checked.Between() | checked.Close():
            yield from (signal.name for signal in signals_in(condition.term))
        case checked.WordIs():
            yield condition.signal.name
        case checked.SameWord():
            yield condition.left.name
        case checked.All() | checked.Either():
            for part in condition.parts:
                yield from _subjects(part)
        case checked.Implies():
            yield from _subjects(condition.then)
        case checked.Opposite() | checked.Held():
            yield from _subjects(condition.part)


def _all_behind(names: Iterable[str], figures: Mapping[str, tuple[str, ...]]) -> set[str]:
    """These signals, and all that figures among them are worked out from."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(figures.get(name, ()))
    return found


def _read_by(items: Iterable[Item]) -> Iterator[str]:
    """The signals that these items read."""
    for item in items:
        if item.condition is not None:
            yield from signals_of(item.condition)
