"""Lays changes over clean flights, each on a branch of its own, until a rule is found alone.

Takes: a pack's rules.  Gives: a `Trial` for each.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from rules.judge.events import FindingOpened, JudgeEvent, Notice
from rules.language.traversal import look_back_s
from rules.packs.model import Item, Pack, Watch, declared_id
from rules.signals.model import TRIP_PREFIX, Value
from tests.accidents.accident_case import Case, Moment, Overlay, TripChange
from tests.accidents.case_player import CasePlayer
from tests.each_rule.branches import Branch
from tests.each_rule.breaking_changes import RAMP_S, Change, ChangeFinder
from tests.each_rule.clean_flights import CleanFlight, Span
from tests.each_rule.present_values import PresentValues

START = "start"
AFTER_S = 4.0
"""How long a branch goes on after the finding, to see what else is found."""
LONGEST_S = 420.0
"""How long a branch goes on at most, without the hold of the rule."""
MOST_TRIES = 10
"""Changes that are tried from one moment on."""
MAX_PARALLEL = os.cpu_count() or 1


@dataclass(frozen=True)
class Window:
    """Time in which a rule is broken: from `begin_s`, watched until `end_s`."""

    begin_s: float
    end_s: float


@dataclass(frozen=True)
class Task:
    """A rule to break in a window: with a known change, or with those that follow from its condition."""

    window: Window
    rule: Item | Watch
    change: Change | None = None


@dataclass(frozen=True)
class Trial:
    """The best slip of a rule so far.

    Attributes:
        rule: Id of the item or watch.
        flight: Name of the flight.
        begin_s: When the slip begins, in the flight's time.
        change: What is laid over.
        sentence: Sentence of the finding, '' where it was not found.
        level: Its level.
        told: True if a notice gave it until the end of the branch.
        others: Further rules that were found, without their matches.
    """

    rule: str
    flight: str
    begin_s: float
    change: Change
    sentence: str = ""
    level: str = ""
    told: bool = False
    others: tuple[str, ...] = ()

    @property
    def slip(self) -> str:
        """What is laid over, in words."""
        return self.change.text

    @property
    def alone(self) -> bool:
        """True if nothing else was found."""
        return bool(self.sentence) and not self.others

    def better_than(self, other: Trial | None) -> bool:
        """True if it is found where the other is not, or with fewer others."""
        if other is None or bool(self.sentence) is not bool(other.sentence):
            return other is None or bool(self.sentence)
        return bool(self.sentence) and len(self.others) < len(other.others)


def windows(flight: CleanFlight, rule: Item | Watch) -> list[Window]:
    """Times at which a rule can be broken in a flight, those with the shortest way to its finding first."""
    found = _item_windows(flight, rule) if isinstance(rule, Item) else _watch_windows(flight, rule)
    unique: dict[float, Window] = {}
    for window in found:
        unique.setdefault(round(window.begin_s), window)
    return list(unique.values())


def _item_windows(flight: CleanFlight, item: Item) -> Iterator[Window]:
    """Before the gates that need the item; then from before it was first met; then from the beginning."""
    needing = [gate.id for gate in flight.recording.pack.gates if item.id in gate.needs]
    spans = [span for gate in needing for span in flight.gates[gate]]
    spans.sort(key=lambda span: span.begin_s)
    ends = [(span.end_s or span.begin_s + 60.0) + 3.0 + item.hold_s for span in spans]
    for span, end_s in zip(spans, ends, strict=True):
        yield Window(max(1.0, span.begin_s - 8.0), end_s)
    for end_s in ends[:2]:
        if item.id in flight.met_s:
            yield Window(max(1.0, flight.met_s[item.id] - 3.0), end_s)
        yield Window(1.0, end_s)


def _watch_windows(flight: CleanFlight, watch: Watch) -> Iterator[Window]:
    """Where it applies: early, in the middle, late; then in its phases."""
    back_s = look_back_s(*(each for each in (watch.applies, watch.expect) if each is not None))
    after_s = watch.hold_s + (back_s if back_s < LONGEST_S else 0.0) + RAMP_S + 15.0

    def in_span(span: Span, share: float) -> Window:
        end_s = flight.end_s if span.end_s is None else span.end_s
        begin_s = span.begin_s + share * (end_s - span.begin_s)
        return Window(max(1.0, begin_s), begin_s + after_s)

    watched = sorted(flight.watched.get(watch.id, ()), key=lambda s: s.begin_s - (s.end_s or flight.end_s))
    for share in (0.5, 0.1, 0.9):
        yield from (in_span(span, share) for span in watched[:3])
    phases = [span for phase, span in flight.phases if not watch.phases or phase in watch.phases]
    for share in (0.02, 0.4):
        yield from (in_span(span, share) for span in phases[:: max(1, len(phases) // 6)])


def find_slips(
    flight: CleanFlight, rules: Sequence[Item | Watch], known: Mapping[str, Trial]
) -> dict[str, Trial]:
    """Try every rule at each of its times in a flight, until it is found alone.

    Args:
        flight: The clean flight.
        rules: Those to try.
        known: The best trial of a rule so far.
    """
    best, turn = dict(known), 0
    times = {rule.id: windows(flight, rule) for rule in rules}
    while waiting := [
        r for r in rules if turn < len(times[r.id]) and not (r.id in best and best[r.id].alone)
    ]:
        tasks = [Task(times[rule.id][turn], rule) for rule in waiting]
        for trial in _walk(flight, tasks):
            if trial is not None and trial.better_than(best.get(trial.rule)):
                best[trial.rule] = trial
        turn += 1
    return best


def play_again(flight: CleanFlight, tasks: Iterable[Task]) -> list[Trial]:
    """Lay known changes over a flight, each on a branch of its own."""
    return [trial for trial in _walk(flight, tasks) if trial is not None]


def _walk(flight: CleanFlight, tasks: Iterable[Task]) -> Iterator[Trial | None]:
    """Play the flight once, with a branch for each task."""
    player, branches = CasePlayer(flight.recording), list[Branch[Trial | None]]()
    gc.collect()
    gc.freeze()  # so that the branches do not scan, and copy, shared objects
    for task in sorted(tasks, key=lambda task: task.window.begin_s):
        while not player.over and player.next_s < task.window.begin_s:
            player.clean()
        if player.over:
            break
        if len(branches) >= MAX_PARALLEL:
            yield branches.pop(0).result()
        branches.append(Branch(partial(_try_all, flight, player, task)))
    for branch in branches:
        yield branch.result()


def _try_all(flight: CleanFlight, player: CasePlayer, task: Task) -> Trial | None:
    """In a branch: play the task's change, or try those that follow from its rule, each in a branch of its own."""
    if task.change is not None:
        return _play(flight, player, task, task.change)
    best: Trial | None = None
    for change in changes_of(player, task.window, task.rule)[:MOST_TRIES]:
        trial = Branch(partial(_play, flight, player, task, change)).result()
        if trial.better_than(best):
            best = trial
        if best is not None and best.alone:
            break
    return best


def changes_of(player: CasePlayer, window: Window, rule: Item | Watch) -> list[Change]:
    """Changes that may break a rule at the player's moment."""
    pack, state = player.recording.pack, dict(player.judge.trip_values)
    later = dict[str, Value]()
    for step in player.recording.steps:
        if step.sim_s >= window.end_s:
            break
        (state if step.sim_s < window.begin_s else later).update(step.changes)
    moving = frozenset(name for name in later if name in state)
    finder = ChangeFinder(PresentValues(pack, state), moving)
    if isinstance(rule, Item):
        return _unique(finder.changes(rule.condition, wanted=False)) if rule.condition is not None else []
    broken = finder.changes(rule.expect, wanted=False)
    if rule.applies is None:
        return broken
    applies = finder.changes(rule.applies, wanted=True)[:6]
    both = [
        joined for change in broken[:8] for other in applies if (joined := other.joined(change)) is not None
    ]
    return _unique([*broken[:4], *both, *broken[4:]])


def _unique(changes: Iterable[Change]) -> list[Change]:
    found: dict[str, Change] = {}
    for change in changes:
        found.setdefault(change.text, change)
    found.pop("nothing", None)
    return list(found.values())


def _play(flight: CleanFlight, player: CasePlayer, task: Task, change: Change) -> Trial:
    """Play the flight with a change until the rule has been found for a while."""
    window, rule = task.window, task.rule
    case, marks = case_of(rule.id, change), {START: window.begin_s}
    found_s, events = None, list[JudgeEvent]()
    for step_events in player.case(case, marks):
        events += step_events
        if found_s is None and any(
            isinstance(e, FindingOpened) and e.finding.item == rule.id for e in step_events
        ):
            found_s = player.judge.sim_s
        if player.judge.sim_s > min(
            window.end_s if found_s is None else found_s + AFTER_S, window.begin_s + LONGEST_S + rule.hold_s
        ):
            break
    return _trial(flight, task, change, events)


def _trial(flight: CleanFlight, task: Task, change: Change, events: Iterable[JudgeEvent]) -> Trial:
    rule, begin_s = task.rule, task.window.begin_s
    findings = [event.finding for event in events if isinstance(event, FindingOpened)]
    findings = [finding for finding in findings if str(finding.kind) != "not_verifiable"]
    own = next((finding for finding in findings if finding.item == rule.id), None)
    others = {declared_id(finding.item) for finding in findings} - {declared_id(rule.id)} - flight.found
    begun = Trial(rule.id, flight.name, begin_s, change, others=tuple(sorted(others)))
    if own is None:
        return begun
    told = any(
        isinstance(event, Notice) and (event.finding == own.number or own.sentence in event.sentence)
        for event in events
    )
    return replace(begun, sentence=own.sentence, level=str(own.level), told=told)


def case_of(rule: str, change: Change) -> Case:
    """The change in the form of the accident table."""
    trip = {
        name.removeprefix(TRIP_PREFIX): value
        for name, value in change.put.items()
        if name.startswith(TRIP_PREFIX)
    }
    put = {name: value for name, value in change.put.items() if not name.startswith(TRIP_PREFIX)}
    begins = Moment(START, 0.0)
    overlay = Overlay.model_construct(
        begins=begins,
        ends=None,
        put=put,
        plus=dict(change.plus),
        times={},
        hold=sorted(change.hold),
        ramp=dict(change.ramp),
        ramp_s=RAMP_S,
        mute=[],
    )
    return Case.model_construct(
        id=rule, title=change.text, layers=[overlay], missing_calls=sorted(change.calls), jump_back=None,
        trip_changes=[TripChange.model_construct(at=begins, values=trip)] if trip else [],
    )  # fmt: skip


def rules_of(pack: Pack) -> list[Item | Watch]:
    """Every item and watch of a pack, each match of a `*`."""
    return [*pack.items.values(), *pack.watches]
