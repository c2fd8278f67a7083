"""Finds values of signals that make a condition true or false, by the form of the condition.

Takes: a checked condition, the wanted truth, values that are right.  Gives: `Recipe`s, the most natural first; the caller
tries them, since a later part can undo an earlier one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice, product

from rules.language import checked_tree as c
from rules.packs.model import Figure, Pack
from rules.signals.model import SignalKind, Value
from tests.sentences.numbers import number_changes, other_values

_ALTERNATIVES = 4
"""Recipes of each part that are combined."""
_REPEATS = 5
_SETTLED_S = 1.0
_EVENTS = (c.CallEvent, c.Rise, c.Whenever, c.Changed, c.Sweep)


@dataclass(frozen=True)
class Recipe:
    """Values to set, and calls to make or to leave out.

    Attributes:
        before: Values that are set first.
        then: Values that are set afterwards.
        hold_s: Time for which they stay, in s.
        left_out: Calls that were not made.
        made: Calls that are made between `before` and `then`.
        repeats: Number of times that `before` and `then` are set.
    """

    before: Mapping[str, Value] = field(default_factory=dict)
    then: Mapping[str, Value] = field(default_factory=dict)
    hold_s: float = 0.0
    left_out: frozenset[str] = frozenset()
    made: frozenset[str] = frozenset()
    repeats: int = 1

    def merged(self, other: Recipe) -> Recipe:
        """Both together; the other's values win."""
        return Recipe(
            {**self.before, **other.before},
            {**self.then, **other.then},
            max(self.hold_s, other.hold_s),
            self.left_out | other.left_out,
            (self.made | other.made) - self.left_out - other.left_out,
            max(self.repeats, other.repeats),
        )


class Solver:
    """Recipes for the conditions of one pack, from values that are right."""

    def __init__(self, pack: Pack, values: Mapping[str, Value]) -> None:
        """Start from the values of all signals, of the trip sheet and of the figures."""
        self._pack = pack
        self._values = values
        self._figures: dict[str, Figure] = {figure.signal.name: figure for figure in pack.figures}

    def recipes(self, condition: c.Condition, *, want: bool) -> Iterator[Recipe]:
        """Recipes after which the condition may have the wanted truth."""
        match condition:
            case c.WordIs() | c.SameWord():
                yield from self._words(condition, want=want)
            case c.Relation() | c.Between() | c.WithinTolerance():
                for change in number_changes(condition, self._values, self._figures, want=want):
                    yield Recipe(then=change)
            case c.And() | c.Or() | c.Implies() | c.Unless() | c.NumberOf() | c.Not():
                yield from self._logic(condition, want=want)
            case c.Estimate() | c.ItemMet():
                for part, truth in self._claims(condition, want=want):
                    yield from self.recipes(part, want=truth)
            case c.Once() | c.TimedOnce() | c.BeforeAfter() | c.Deadline() | c.Since():
                yield from self._events(condition, want=want)
            case c.TimedHistorically(part=part, seconds=seconds):
                for recipe in self.recipes(part, want=want):
                    yield recipe.merged(Recipe(hold_s=seconds + _SETTLED_S if want else 0.0))

    def _claims(self, condition: c.Estimate | c.ItemMet, *, want: bool) -> Iterator[tuple[c.Condition, bool]]:
        """Conditions behind an estimate or an item, with the truth that each should have."""
        if isinstance(condition, c.Estimate):
            shown = (condition.yes, condition.no) if want else (condition.no, condition.yes)
            yield from ((part, True) for part in shown[0] if part is not None)
            yield from ((part, False) for part in shown[1] if part is not None)
        elif (item := self._pack.items.get(condition.item)) is not None and item.condition is not None:
            yield item.condition, want

    def _logic(
        self, condition: c.And | c.Or | c.Implies | c.Unless | c.NumberOf | c.Not, *, want: bool
    ) -> Iterator[Recipe]:
        match condition:
            case c.Not(part=part):
                yield from self.recipes(part, want=not want)
            case c.And(parts=parts):
                yield from self._every(parts, want=True) if want else self._each(parts, want=False)
            case c.Or(parts=parts):
                yield from self._each(parts, want=True) if want else self._every(parts, want=False)
            case c.Implies(when=when, then=then):
                yield from self._logic(c.Or((c.Not(when), then)), want=want)
            case c.Unless(part=part, excuse=excuse):
                yield from self._logic(c.Or((part, excuse)), want=want)
            case c.NumberOf(parts=parts, least=least, most=most):
                number = least if want else most + 1
                chosen = parts[:number] if number <= len(parts) else parts
                yield from self._every(chosen, want=want or number <= len(parts))

    def _each(self, parts: tuple[c.Condition, ...], *, want: bool) -> Iterator[Recipe]:
        """Recipes of one part at a time: the first of each, then the others."""
        found = [list(islice(self.recipes(part, want=want), 12)) for part in parts]
        yield from (recipes[0] for recipes in found if recipes)
        yield from (recipe for recipes in found for recipe in recipes[1:])

    def _every(self, parts: tuple[c.Condition, ...], *, want: bool) -> Iterator[Recipe]:
        """Recipes of all parts together."""
        found = [list(islice(self.recipes(part, want=want), _ALTERNATIVES)) for part in parts]
        for chosen in islice(product(*found), 40):
            recipe = Recipe()
            for one in chosen:
                recipe = recipe.merged(one)
            yield recipe

    def _words(self, condition: c.WordIs | c.SameWord, *, want: bool) -> Iterator[Recipe]:
        if isinstance(condition, c.SameWord):
            name, right = condition.left.name, self._values.get(condition.right.name, "")
            words: tuple[str, ...] = (str(right),)
            signal, equal = condition.left, want is not condition.negated
        else:
            name, words, signal = condition.signal.name, condition.words, condition.signal
            equal = want is not condition.negated
        present = self._values.get(name)
        if present is not None and (present in words) is equal:
            yield Recipe()
        if equal:
            yield from (Recipe(then={name: word}) for word in words)
        elif signal.kind is SignalKind.TEXT:
            yield Recipe(then={name: "ZZZ"})
        else:
            yield from (Recipe(then={name: word}) for word in signal.words if word not in words)

    def _events(
        self, condition: c.Once | c.TimedOnce | c.BeforeAfter | c.Deadline | c.Since, *, want: bool
    ) -> Iterator[Recipe]:
        match condition:
            case c.Once(event=event) | c.TimedOnce(event=event):
                yield from self.happens(event) if want else self._does_not(event)
            case c.BeforeAfter(first=first, relation=relation, second=second):
                if want or relation == "before":
                    yield from self.happens(first if want else second)
                else:
                    yield from self._does_not(first)
                    yield from self.happens(second)
            case c.Deadline():
                yield from self._does_not(condition.event) if want else self._late(condition)
            case c.Since(part=part, event=event):
                for recipe in islice(self.recipes(part, want=want), _ALTERNATIVES):
                    yield recipe
                    yield from (one.merged(recipe) for one in islice(self.happens(event), _ALTERNATIVES))

    def _late(self, condition: c.Deadline) -> Iterator[Recipe]:
        """Recipes in which the time after an event passes without what should follow."""
        part, waited = condition.part, Recipe(hold_s=condition.seconds + _SETTLED_S)
        undone = self._does_not(part) if isinstance(part, _EVENTS) else self.recipes(part, want=False)
        for late in islice(undone, _ALTERNATIVES):
            for recipe in islice(self.happens(condition.event), _ALTERNATIVES):
                yield recipe.merged(late).merged(waited)

    def happens(self, event: c.Event) -> Iterator[Recipe]:
        """Recipes in which an event happens."""
        match event:
            case c.CallEvent(name=name):
                yield Recipe(made=frozenset({name}))
            case c.Rise(part=part):
                for after in islice(self.recipes(part, want=True), _ALTERNATIVES):
                    for before in islice(self.recipes(part, want=False), _ALTERNATIVES):
                        first = {**before.before, **before.then}
                        back = {name: self._values[name] for name in first if name in self._values}
                        yield Recipe(first, {**back, **after.then}, after.hold_s)
            case c.Whenever(part=part):
                yield from self.recipes(part, want=True)
            case c.Changed(signal=signal):
                present = self._values[signal.name]
                for other in other_values(signal, present):
                    yield Recipe({signal.name: other}, {signal.name: present})
            case c.Sweep():
                return

    def _does_not(self, event: c.Event) -> Iterator[Recipe]:
        yield Recipe()
        match event:
            case c.CallEvent(name=name):
                yield Recipe(left_out=frozenset({name}))
            case c.Rise(part=part) | c.Whenever(part=part):
                yield from self.recipes(part, want=False)


def count_recipes(solver: Solver, condition: c.Condition) -> Iterator[Recipe]:
    """Recipes in which the events that a condition counts happen several times."""
    match condition:
        case c.Relation(left=c.EventCount(event=event)):
            for recipe in solver.happens(event):
                yield Recipe(recipe.before, recipe.then, repeats=_REPEATS)
