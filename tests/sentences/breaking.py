"""Breaks one rule of a pack at a time in a correct flight, and gives the notices that the crew hears.

The rule is alone in a pack of its own, with a gate that is always cued, so that no other rule speaks.

Takes: a correct flight, an item or watch.  Gives: sentences of notices.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import islice

from rules.judge.events import JudgeEvent, LeadIn, Notice
from rules.judge.judge import Judge, compute_figures
from rules.language import checked_tree as c
from rules.language.traversal import item_ids, signal_names
from rules.packs.model import Gate, Item, Pack, Watch
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX, Frame, Quality, Sample, SignalKind, Value
from tests.sentences.flights import CleanFlight, FlightMoment
from tests.sentences.solving import Recipe, Solver, count_recipes

MOST_SENTENCES = 4
"""Sentences of one rule that are collected, one for each part that can be wrong."""
_TRIES = 24
_NOTHING_NEW = 5
"""Recipes in a row that give no new sentence, after which no more are tried."""
_BEFORE_S = 12.0  # longer than the windows of most rules
_PHASE_GATE = "gate"
_NUMBER = re.compile(r"-?[0-9]+(?: [0-9]{3})*(?:\.[0-9]+)?")


def broken_sentences(flight: CleanFlight, rule: Item | Watch) -> list[str]:
    """Sentences of the notices that a crew hears when one rule is broken; none where no values break it."""
    for at_s in flight.times_of(rule):
        moment, found, nothing_new = flight.at(at_s), dict[str, str](), 0
        for recipe in _recipes(flight, rule, moment):
            nothing_new += 1
            for sentence in _heard(flight, rule, moment, recipe):
                if found.setdefault(without_numbers(sentence), sentence) is sentence:
                    nothing_new = 0
            if len(found) >= MOST_SENTENCES or (found and nothing_new >= _NOTHING_NEW):
                break
        if found:
            return list(found.values())
    return []


def order_sentences(flight: CleanFlight, item: Item) -> list[str]:
    """Sentences that a crew hears when an item is done too early, or before another that it follows."""
    at_s = flight.times_of(item)[0]
    moment = flight.at(at_s)
    solver = Solver(flight.pack, right_values(flight, moment))
    undone = next(iter(solver.recipes(item.condition, want=False)), None) if item.condition else None
    if undone is None:
        return []
    found: dict[str, str] = {}
    for missing in _missing_prerequisites(flight.pack, solver, item):
        pack = _alone(flight.pack, item, whole=True)
        run = _Run(Judge(pack, flight.trip, calls_entered=True), _names_read(pack))
        run.send(flight.moments[0].state, ())
        calls = moment.calls - missing.left_out - undone.left_out
        run.send({**moment.state, **missing.then, **undone.then}, calls)
        run.wait(_BEFORE_S)
        run.send({**{name: moment.state[name] for name in undone.then}, **missing.then}, undone.left_out)
        run.wait(item.hold_s + 1.0)
        for sentence in run.sentences(item.id, (LeadIn.TOO_EARLY, LeadIn.OUT_OF_ORDER)):
            found.setdefault(without_numbers(sentence), sentence)
    return list(found.values())


def _missing_prerequisites(pack: Pack, solver: Solver, item: Item) -> Iterator[Recipe]:
    """Recipes after which what an item comes after is not so."""
    conditions = [item.after, *(pack.items[name].condition for name in item.follows)]
    for condition in conditions:
        if condition is not None:
            yield from islice(solver.recipes(condition, want=False), 3)


def without_numbers(text: str) -> str:
    """A text with `#` for each number: what the crew hears but for the values of one flight."""
    return _NUMBER.sub("#", text)


def _recipes(flight: CleanFlight, rule: Item | Watch, moment: FlightMoment) -> Iterator[Recipe]:
    solver = Solver(flight.pack, right_values(flight, moment))
    yield from islice(_wrong(solver, rule), _TRIES)


def _wrong(solver: Solver, rule: Item | Watch) -> Iterator[Recipe]:
    """Recipes after which a rule does not hold, and applies."""
    condition = rule.expect if isinstance(rule, Watch) else rule.condition
    if condition is None:
        yield Recipe()
        return
    applies = rule.applies if isinstance(rule, Watch) else None
    wanted = list(islice(solver.recipes(applies, want=True), 4)) if applies is not None else [Recipe()]
    wrong = [*count_recipes(solver, condition), *islice(solver.recipes(condition, want=False), _TRIES)]
    for recipe in wrong:
        for first in wanted:
            yield first.merged(recipe)
        for first in wanted if applies is not None else ():
            yield recipe.merged(first)


def right_values(flight: CleanFlight, moment: FlightMoment) -> Mapping[str, Value]:
    """Values of all signals, of the trip sheet and of the figures at a moment."""
    values = {**moment.state, **flight.trip.values}
    figures = {one.signal.name: one.value for one in compute_figures(flight.pack, values)}
    return {**values, **figures}


def _heard(flight: CleanFlight, rule: Item | Watch, moment: FlightMoment, recipe: Recipe) -> list[str]:
    """Notices of the rule after a recipe; those in the right state before it do not count."""
    changed = {**recipe.before, **recipe.then}
    trip = {name: value for name, value in changed.items() if name.startswith(TRIP_PREFIX)}
    sheet = replace(flight.trip, values={**flight.trip.values, **trip})
    pack = _alone(flight.pack, rule)
    run = _Run(Judge(pack, sheet, calls_entered=True), _names_read(pack))
    run.send(flight.moments[0].state, ())
    run.send(moment.state, (moment.calls - recipe.left_out) - recipe.made)
    run.wait(_BEFORE_S)
    for number in range(recipe.repeats):
        if recipe.before:
            run.send(recipe.before, ())
            run.wait(2.0)
        run.send(recipe.then, recipe.made if number == 0 else ())
        run.wait(1.0 if recipe.repeats > 1 else 0.0)
    return run.notices_within(recipe.hold_s + rule.hold_s + 1.0, rule.id)


class _Run:
    """A judge with one rule, and its clock."""

    def __init__(self, judge: Judge, names: frozenset[str]) -> None:
        self.judge, self.sim_s, self.names = judge, 0.0, tuple(sorted(names))
        self.events: list[JudgeEvent] = []

    def send(self, state: Mapping[str, Value], calls: Iterable[str]) -> None:
        """Send these values half a second later."""
        now_s = self.sim_s
        samples = [Sample(name, state[name], Quality.FRESH, now_s) for name in self.names if name in state]
        self.events += self.judge.judge_frame(
            Frame("test", now_s, now_s, 0, self.names, samples, tuple(sorted(calls)))
        )
        self.sim_s += 0.5

    def wait(self, for_s: float) -> None:
        """Let time pass."""
        for _ in range(round(for_s / 0.5)):
            self.send({}, ())

    def notices_within(self, for_s: float, rule: str) -> list[str]:
        """Sentence of the rule's first notice within this time."""
        for _ in range(max(1, round(for_s / 0.5)) + 1):
            found = self.sentences(rule, tuple(set(LeadIn) - {LeadIn.CANNOT_VERIFY}))
            if found:
                return found[:1]
            self.send({}, ())
        return []

    def sentences(self, rule: str, lead_ins: Collection[LeadIn]) -> list[str]:
        """Sentences of the rule's notices with one of these lead-ins."""
        notices = [event for event in self.events if isinstance(event, Notice) and event.item == rule]
        return [notice.sentence for notice in notices if notice.lead_in in lead_ins]


def _alone(pack: Pack, rule: Item | Watch, *, whole: bool = False) -> Pack:
    """A pack in which one rule is judged, at once and in every phase, with the items that it reads.

    Args:
        pack: The pack.
        rule: The rule.
        whole: True to judge its order too, with the items that it follows.
    """
    signal = next(one for one in pack.signals.values() if one.kind is SignalKind.SWITCH)
    always = c.WordIs(signal, signal.words)
    phases = tuple(phase.id for phase in pack.phases)
    items: list[Item] = []
    watches: tuple[Watch, ...] = ()
    needs: tuple[str, ...] = ()
    read: tuple[c.Condition | None, ...]
    if isinstance(rule, Watch):
        watches, read = (replace(rule, phases=()),), (rule.expect, rule.applies)
    else:
        alone = rule if whole else _without_order(rule)
        items, watches, needs = (
            [alone, *(_without_order(pack.items[name]) for name in alone.follows)],
            (),
            (rule.id,),
        )
        read = (rule.condition, *(item.condition for item in items))
    found = {item.id: item for item in items}
    waiting = [name for condition in read if condition is not None for name in item_ids(condition)]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = _without_order(pack.items[name])
            condition = pack.items[name].condition
            waiting += item_ids(condition) if condition is not None else ()
    first = next(
        (gate for gate in pack.gates if isinstance(rule, Item) and rule.id in gate.needs), pack.gates[0]
    )
    gate = Gate(_PHASE_GATE, first.title, phases[-1], phases, always, c.WordIs(signal, ()), needs)
    return replace(
        pack, items=found, watches=watches, gates=(gate,), flows={}, checklists={}, traces=(), callouts=(),
        flight_times=(), quiet_periods=(),
    )  # fmt: skip


def _names_read(pack: Pack) -> frozenset[str]:
    """Signals of the aeroplane that the rules of a pack read, or say."""
    conditions = [item.condition for item in pack.items.values()] + [
        item.after for item in pack.items.values()
    ]
    conditions += [one for watch in pack.watches for one in (watch.applies, watch.expect)]
    conditions += [gate.cue for gate in pack.gates]
    names = {name for figure in pack.figures for name in figure.input_signals}
    names |= {name for condition in conditions if condition is not None for name in signal_names(condition)}
    for say in (*(item.say for item in pack.items.values()), *(watch.say for watch in pack.watches)):
        names |= {name for shown in say.shown.values() for name in shown}
    return frozenset(name for name in names if not name.startswith((TRIP_PREFIX, FIGURE_PREFIX)))


def _without_order(item: Item) -> Item:
    """An item that may be done at any time."""
    return replace(item, after=None, follows=())
