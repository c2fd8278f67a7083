"""States in which a rule with a `*` holds, and states in which exactly one of its matches is broken.

The search is random, with a fixed seed: it changes one signal after another as long as no rule gets worse.

Takes: the conditions of each match.  Gives: values of their signals.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping, Sequence

from rules.language import checked_tree as c
from rules.language.online import Monitors
from rules.language.traversal import signals_in, walk
from rules.signals.model import Signal, Value
from tests.rules.language.condition_strategies import SampleStore

STEPS = 1500


def signals_of(conditions: Iterable[c.Condition]) -> dict[str, Signal]:
    """Signals that conditions read, by name."""
    return {signal.name: signal for signal in signals_in(*conditions)}


def choices(conditions: Sequence[c.Condition]) -> dict[str, list[Value]]:
    """Values to try for each signal: its words, or its ends and the numbers of the conditions with their neighbours."""
    numbers = {number for node in walk(*conditions) for number in _numbers(node)} | {0.0, 1.0}
    near = [number + by for number in sorted(numbers) for by in (-60.0, -0.5, 0.0, 0.5, 60.0)]
    found: dict[str, list[Value]] = {}
    for name, signal in signals_of(conditions).items():
        inside = [number for number in near if signal.low <= number <= signal.high]
        words = signal.words or (() if signal.is_numeric else ("A", "B"))
        found[name] = list(words) or [signal.low, signal.high, *inside]
    return found


def _numbers(node: object) -> list[float]:
    """Numbers of one node."""
    match node:
        case c.Constant(value=value):
            return [value]
        case c.Sweep(low=low, high=high):
            return [end.value for end in (low, high) if isinstance(end, c.Constant)]
    return []


def truths(
    conditions: Mapping[str, c.Condition], *steps: tuple[float, Mapping[str, Value]]
) -> dict[str, bool | None]:
    """Truth of each condition after these steps, the first of which is a static state."""
    store = SampleStore()
    monitors = Monitors(conditions, store, steady=True)
    for at_s, values in steps:
        store.values.update(values)
        monitors.advance(at_s, [store.sample(name) for name in values])
    return {name: monitors.truth(name) for name in conditions}


def search(
    seed: str,
    start: Mapping[str, Value],
    options: Mapping[str, Sequence[Value]],
    cost: Callable[[Mapping[str, Value]], int],
) -> dict[str, Value] | None:
    """Change values until the cost is 0; None where that fails.

    Args:
        seed: Seed of the choices.
        start: Values to begin with.
        options: Values to try for each signal that may change.
        cost: Number of conditions that are not as they should be.
    """
    dice, names = random.Random(seed), sorted(options)
    best = dict(start)
    least = cost(best)
    for _ in range(STEPS):
        if not least:
            return best
        tried = dict(best)
        for name in dice.sample(names, min(len(names), dice.choice([1, 1, 2]))):
            tried[name] = dice.choice(options[name])
        found = cost(tried)
        if found <= least:
            best, least = tried, found
    return best if not least else None
