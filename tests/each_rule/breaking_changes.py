"""Changes of signals, trip values and calls that make a condition true or false, by its form.

What a condition says about the past is turned into something that is laid over the flight from a moment on: an event
that happened is prevented (its condition is held false, its call is not made), one that did not happen begins with the change.

Takes: a checked condition, the values at the moment at which the change begins.  Gives: `Change`s, the simplest first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain, islice, product, zip_longest

from rules.language import checked_tree as c
from rules.language.traversal import signals_in, walk
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX, Signal, SignalKind, Value
from tests.each_rule.present_values import PresentValues

MOST = 24
"""How many changes are made for one condition."""
SHARES = (0.0005, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 1.0)
"""Steps away from the present value, as shares of the signal's range."""


@dataclass(frozen=True)
class Change:
    """What is laid over the flight: words and numbers, those that follow the flight at a distance, those that freeze or move.

    Attributes:
        put: Values by signal; those of the trip sheet too.
        plus: Differences to the flight's own value.
        hold: Signals that keep the value of the beginning.
        ramp: Values that a signal has after `RAMP_S` seconds.
        calls: Calls that are not made.
    """

    put: Mapping[str, Value] = field(default_factory=dict)
    plus: Mapping[str, float] = field(default_factory=dict)
    hold: frozenset[str] = frozenset()
    ramp: Mapping[str, float] = field(default_factory=dict)
    calls: frozenset[str] = frozenset()

    @property
    def signals(self) -> frozenset[str]:
        """Names of all signals that it changes."""
        return frozenset((*self.put, *self.plus, *self.hold, *self.ramp))

    def joined(self, other: Change) -> Change | None:
        """Both changes together; None where they change one signal in two ways."""
        both = self.signals & other.signals
        if any(self.put.get(name) != other.put.get(name) or name not in self.put for name in both):
            return None
        return Change(
            {**self.put, **other.put},
            {**self.plus, **other.plus},
            self.hold | other.hold,
            {**self.ramp, **other.ramp},
            self.calls | other.calls,
        )

    @property
    def text(self) -> str:
        """The change in words of the files of cases."""
        parts = [
            f"{name} {value:.6g}" if isinstance(value, float) else f"{name} {value}"
            for name, value in self.put.items()
        ]
        parts += [f"{name} {by:+.6g}" for name, by in self.plus.items()]
        parts += [f"{name} frozen" for name in sorted(self.hold)]
        parts += [f"{name} to {value:.6g} in {RAMP_S:g} s" for name, value in self.ramp.items()]
        return ", ".join([*parts, *(f"no call {call}" for call in sorted(self.calls))]) or "nothing"


RAMP_S = 20.0
NOTHING = Change()


class ChangeFinder:
    """Finds changes for the conditions of a pack at one moment.

    Args:
        now: Values at the moment at which the change begins.
        moving: Signals that do not keep their value afterwards; a number among them is changed by a difference.
    """

    def __init__(self, now: PresentValues, moving: frozenset[str]) -> None:
        self._now = now
        self._moving = moving
        self._figures = {figure.signal.name: figure for figure in now.pack.figures}

    def changes(self, condition: c.Condition, *, wanted: bool) -> list[Change]:
        """Changes that may make the condition `wanted`, the simplest first, at most `MOST`.

        Where it is so already, it is kept so: its signals keep the values that they have now.
        """
        if self._now.truth(condition) is wanted:
            return [NOTHING, *self._frozen(condition)][:MOST]
        return list(islice(self._changes(condition, wanted=wanted), MOST))

    def _frozen(self, condition: c.Condition) -> list[Change]:
        """Each signal of a condition frozen, then all of them together."""
        names = [signal.name for signal in signals_in(condition)]
        names = [
            name
            for name in names
            if not name.startswith((TRIP_PREFIX, FIGURE_PREFIX)) and name in self._moving
        ]
        return [*(Change(hold=frozenset([name])) for name in names), Change(hold=frozenset(names))]

    def _changes(self, condition: c.Condition, *, wanted: bool) -> Iterator[Change]:
        if self._now.truth(condition) is wanted:
            return iter((NOTHING,))
        match condition:
            case c.WordIs():
                within = wanted is not condition.negated
                return self._word(condition.signal, condition.words, within=within)
            case c.SameWord(left=left, right=right):
                return self._same_word(left, right, same=wanted is not condition.negated)
            case c.Relation() | c.Between() | c.WithinTolerance():
                return self._number(condition, wanted=wanted)
            case (
                c.Once() | c.TimedOnce() | c.BeforeAfter() | c.Deadline() | c.Since() | c.TimedHistorically()
            ):
                return self._past(condition, wanted=wanted)
            case c.Estimate() | c.ItemMet():
                return self._claim(condition, wanted=wanted)
        return self._logic(condition, wanted=wanted)

    def _logic(self, condition: c.Condition, *, wanted: bool) -> Iterator[Change]:
        """What logic connects: all parts together, or one after the other."""
        match condition:
            case c.Not(part=part):
                return self._changes(part, wanted=not wanted)
            case c.And(parts=parts):
                return (self._all if wanted else self._any)(parts, wanted=wanted)
            case c.Or(parts=parts):
                return (self._any if wanted else self._all)(parts, wanted=wanted)
            case c.NumberOf(parts=parts):
                return chain(self._all(parts, wanted=True), self._all(parts, wanted=False))
            case c.Implies(when=when, then=then):
                if wanted:
                    return self._any((c.Not(when), then), wanted=True)
                return self._all((when, c.Not(then)), wanted=True)
            case c.Unless(part=part, excuse=excuse):
                without = iter(()) if wanted else self._all((c.Not(part), c.Not(excuse)), wanted=True)
                return chain(self._changes(part, wanted=wanted), without)
        return iter(())

    def _past(self, condition: c.Condition, *, wanted: bool) -> Iterator[Change]:
        """What looks back: an event that happens or is prevented, a condition that lasts."""
        events = c.CallEvent | c.Rise | c.Whenever | c.Changed | c.Sweep
        match condition:
            case c.TimedHistorically(part=part) | c.Since(part=part):
                return self._changes(part, wanted=wanted)
            case c.Once(event=event) | c.TimedOnce(event=event) | c.BeforeAfter(first=event):
                return self._event(event, wanted=wanted)
            case c.Deadline(part=one):
                if isinstance(one, events):
                    return self._event(one, wanted=wanted)
                return self._changes(one, wanted=wanted)
        return iter(())

    def _claim(self, condition: c.Estimate | c.ItemMet, *, wanted: bool) -> Iterator[Change]:
        """An estimate by its first source, or another item by its condition."""
        if isinstance(condition, c.ItemMet):
            rule = self._now.pack.items[condition.item].condition
        else:
            rule = condition.yes[0] if condition.yes else None
        return iter(()) if rule is None else self._changes(rule, wanted=wanted)

    def _any(self, parts: Iterable[c.Condition], *, wanted: bool) -> Iterator[Change]:
        """One of the parts: the first change of each, then the second of each."""
        for changes in zip_longest(
            *(list(islice(self._changes(part, wanted=wanted), MOST)) for part in parts)
        ):
            yield from (change for change in changes if change is not None)

    def _all(self, parts: Iterable[c.Condition], *, wanted: bool) -> Iterator[Change]:
        """All parts together."""
        for changes in islice(
            product(*(list(islice(self._changes(part, wanted=wanted), 6)) for part in parts)), 200
        ):
            together: Change | None = NOTHING
            for change in changes:
                together = together.joined(change) if together is not None else None
            if together is not None:
                yield together

    def _event(self, event: c.Event, *, wanted: bool) -> Iterator[Change]:
        """An event that happens, or is prevented."""
        match event:
            case c.CallEvent(name=name) if not wanted:
                yield Change(calls=frozenset([name]))
            case c.Rise(part=part) | c.Whenever(part=part):
                yield from self._event_of(part, wanted=wanted)
            case c.Changed(signal=signal):
                yield from self._word(signal, (str(self._now.value(signal.name)),), within=not wanted)
            case c.Sweep(term=term) if not wanted:
                yield Change(hold=frozenset(signal.name for signal in signals_in(term)))

    def _event_of(self, part: c.Condition, *, wanted: bool) -> Iterator[Change]:
        """The condition of an event; one that is false now is held so, since it would become true."""
        if wanted or self._now.truth(part) is not False:
            yield from self._changes(part, wanted=wanted)
            return
        yield from self._frozen(part)

    def _word(self, signal: Signal, words: Iterable[str], *, within: bool) -> Iterator[Change]:
        """A word that is one of these, or none of them."""
        if signal.kind is SignalKind.TEXT:
            yield from (
                [Change({signal.name: word}) for word in words] if within else [Change({signal.name: "ZZZ"})]
            )
            return
        for word in signal.words:
            if (word in tuple(words)) is within:
                yield Change({signal.name: word})

    def _same_word(self, left: Signal, right: Signal, *, same: bool) -> Iterator[Change]:
        for changed, other in ((left, right), (right, left)):
            word = self._now.value(other.name)
            if isinstance(word, str):
                yield from self._word(changed, (word,), within=same)

    def _number(self, condition: c.Predicate, *, wanted: bool) -> Iterator[Change]:
        """Values of the signals of a comparison, each alone, the nearest first."""
        windows = [
            node
            for node in walk(condition)
            if isinstance(node, c.Window) and node.function in ("change", "rate")
        ]
        names = self._inputs(condition)
        if windows:
            yield from self._movements(names, condition, wanted=wanted)
        for values in zip_longest(*(self._values(name, condition, wanted=wanted) for name in names)):
            for name, value in zip(names, values, strict=True):
                if value is not None:
                    yield from self._as_changes(name, value)

    def _movements(self, names: Iterable[str], condition: c.Predicate, *, wanted: bool) -> Iterator[Change]:
        """Signals that freeze, or move faster than in flight."""
        names = [name for name in names if not name.startswith(TRIP_PREFIX)]
        if self._now.truth(condition) is wanted:
            yield from (Change(hold=frozenset([name])) for name in names)
        for share in (0.05, -0.05, 0.2, -0.2, 0.5, -0.5):
            for name in names:
                value = self._at_share(name, share)
                yield from () if value is None else (Change(ramp={name: value}),)

    def _as_changes(self, name: str, value: float) -> Iterator[Change]:
        """A value that stays, or the same distance from the flight's own value where that moves."""
        now = self._now.value(name)
        if name in self._moving and isinstance(now, float | int):
            yield Change(plus={name: value - now})
        yield Change(put={name: value})

    def _inputs(self, condition: c.Condition) -> list[str]:
        """Signals with numbers that a condition reads, those of figures too; those of the trip sheet last."""
        found: dict[str, None] = {}
        waiting = [signal.name for signal in signals_in(condition)]
        while waiting:
            name = waiting.pop(0)
            if name in self._figures:
                waiting += self._figures[name].input_signals
            elif isinstance(self._now.value(name), float | int):
                found[name] = None
        return sorted(found, key=lambda name: name.startswith(TRIP_PREFIX))

    def _values(self, name: str, condition: c.Predicate, *, wanted: bool) -> list[float]:
        """Values of a signal with which a comparison is as wanted: the two nearest to the present one, and two further away."""
        good = [
            value
            for value in self._tried(name, condition)
            if self._with(name, value).truth(condition) is wanted
        ]
        now = self._now.value(name)
        good.sort(key=lambda value: abs(value - float(now)) if now is not None else 0.0)
        above = [value for value in good if now is None or value >= float(now)]
        below = [value for value in good if now is not None and value < float(now)]
        picked = [
            value for pair in zip_longest(above[1:3], below[1:3]) for value in pair if value is not None
        ]
        return list(dict.fromkeys([*picked, *above[:1], *below[:1], *above[4:5], *below[4:5]]))

    def _tried(self, name: str, condition: c.Predicate) -> Iterator[float]:
        for share in SHARES:
            for way in (1.0, -1.0):
                value = self._at_share(name, way * share)
                yield from () if value is None else (value,)
        yield from self._crossings(name, condition)

    def _at_share(self, name: str, share: float) -> float | None:
        """Value at a distance from the present one, within the signal's range; whole numbers for counts."""
        signal, now = self._now.pack.signals[name], self._now.value(name)
        if now is None or isinstance(now, str):
            return None
        moved = now + share * (signal.high - signal.low)
        if signal.kind is SignalKind.ANGLE:
            return moved % 360.0
        value = max(signal.low, min(signal.high, moved))
        return float(round(value)) if signal.kind is SignalKind.COUNT else value

    def _crossings(self, name: str, condition: c.Predicate) -> Iterator[float]:
        """Values at which the sides of a comparison are equal, if it is linear in the signal."""
        match condition:
            case c.Relation(left=left, right=right):
                pairs: tuple[tuple[c.Term, c.Term], ...] = ((left, right),)
            case c.Between(term=term, low=low, high=high):
                pairs = ((term, low), (term, high))
            case c.WithinTolerance(term=term, target=target):
                pairs = ((term, target),)
            case _:
                pairs = ()
        signal = self._now.pack.signals[name]
        step = 0.01 * (signal.high - signal.low)
        now = float(str(self._now.value(name)))
        for first, second in pairs:
            here = self._apart(self._now, first, second)
            there = self._apart(self._with(name, now + step), first, second)
            if here is None or there is None or here == there:
                continue
            zero = now - here * step / (there - here)
            for beside in (0.0, 0.2 * step, -0.2 * step, step, -step, 4 * step, -4 * step):
                if signal.low <= zero + beside <= signal.high:
                    yield zero + beside

    @staticmethod
    def _apart(values: PresentValues, first: c.Term, second: c.Term) -> float | None:
        one, other = values.number(first), values.number(second)
        return None if one is None or other is None else one - other

    def _with(self, name: str, value: float) -> PresentValues:
        return self._now.with_values({name: value})
