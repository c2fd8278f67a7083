"""A rule with a `*` is reported match by match: one match broken gives exactly its finding and notice, in both judges."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import pytest

from rules.judge.events import FindingOpened, Notice
from rules.judge.judge import Judge
from rules.language import checked_tree as c
from rules.packs.model import Item, Pack, Watch, declared_id
from rules.signals.model import Frame, Quality, Sample, Value
from tests.rules.judge.batch.compare_batch import batch_events, live_events
from tests.rules.judge.match_search import choices, search, signals_of, truths
from tests.rules.judge.scripted_flight import FixedTripValues, PackBuilder, push
from tests.shipped import shipped_pack

PACKS = ("twin_jet", "trainer")
KEEP_S, BREAK_S = 10, 40
"""Seconds for which the rule is kept, and then broken."""
ATTEMPTS = 8
"""Bases that are tried for a rule."""


@dataclass(frozen=True)
class Rule:
    """A rule of a shipped pack with its matches, by their ids."""

    name: str
    matches: Mapping[str, Item | Watch]

    def conditions(self, match: str) -> tuple[c.Condition, ...]:
        """Conditions of one match: what must be, and for a watch when."""
        rule = self.matches[match]
        both = (rule.expect, rule.applies) if isinstance(rule, Watch) else (rule.condition, None)
        return tuple(condition for condition in both if condition is not None)

    def parts(self) -> dict[str, c.Condition]:
        """All conditions by the match and a number."""
        return {
            f"{match} {n}": condition
            for match in self.matches
            for n, condition in enumerate(self.conditions(match))
        }

    def broken(self, truth: Mapping[str, bool | None], match: str) -> bool:
        """True if a match is broken."""
        return truth[f"{match} 0"] is False and truth.get(f"{match} 1", True) is True

    def kept(self, truth: Mapping[str, bool | None], match: str) -> bool:
        """True if a match is kept, or does not apply."""
        return truth[f"{match} 0"] is True or truth.get(f"{match} 1") is False


def rules(name: str) -> Iterator[Rule]:
    """Rules of a pack that are judged match by match."""
    pack = shipped_pack(name)
    found: dict[str, dict[str, Item | Watch]] = {}
    every: list[Item | Watch] = [*pack.items.values(), *pack.watches]
    for rule in every:
        found.setdefault(declared_id(rule.id), {})[rule.id] = rule
    return (Rule(f"{name} {one}", matches) for one, matches in found.items() if len(matches) > 1)


BY_EVENTS = {
    "twin_jet watch.starter_tries",  # its case: tests/packs_flight/test_start.py
    "twin_jet watch.altimeter_still",  # its case: tests/other_days/air.yaml
    "twin_jet watch.heading_still",  # its case: tests/accidents
    "twin_jet watch.engine_cut_off",  # its cases: tests/other_days/engines.yaml
    "twin_jet watch.engine_stopped",  # its case: tests/other_days/ground.yaml
}
"""Broken by events (several, or what was told of the engine before), or by a gauge that does not move while others do, and not by a state."""
RULES = {rule.name: rule for name in PACKS for rule in rules(name) if rule.name not in BY_EVENTS}


def base_values(rule: Rule, attempt: int) -> dict[str, Value] | None:
    """Values with which every match is kept, if possible also where it does not apply.

    Args:
        rule: The rule.
        attempt: 0 to begin the search with the first value of each signal, else with values of chance.
    """
    parts = rule.parts()
    options = choices(list(parts.values()))
    dice = random.Random(f"{rule.name} {attempt}")
    start = {name: dice.choice(some) if attempt else some[0] for name, some in options.items()}

    def not_kept(values: Mapping[str, Value]) -> int:
        truth = truths(parts, (0.0, values))
        return sum(not rule.kept(truth, match) for match in rule.matches)

    def not_true(values: Mapping[str, Value]) -> int:
        truth = truths(parts, (0.0, values))
        return sum(truth[f"{match} 0"] is not True for match in rule.matches)

    return search(rule.name, start, options, not_true) or search(rule.name, start, options, not_kept)


def broken_values(rule: Rule, match: str, base: Mapping[str, Value]) -> dict[str, Value] | None:
    """Values with which this match is broken and every other one is kept; if possible, only its own signals differ."""
    parts = rule.parts()
    options = choices(list(parts.values()))
    others = {n for one in rule.matches if one != match for n in signals_of(rule.conditions(one))}
    own = {name: some for name, some in options.items() if name not in others}

    def cost(values: Mapping[str, Value]) -> int:
        at_once = truths(parts, (0.0, base), (100.0, values))
        later = truths(parts, (0.0, base), (100.0, values), (110.0, values))
        wrong = sum(
            not rule.kept(truth, one) for truth in (at_once, later) for one in rule.matches if one != match
        )
        return wrong + (not rule.broken(at_once, match) and not rule.broken(later, match))

    seed = f"{rule.name} {match}"
    return (search(seed, base, own, cost) if own else None) or search(seed, base, options, cost)


def states(rule: Rule) -> tuple[dict[str, Value], dict[str, dict[str, Value]]]:
    """Values with which all matches are kept, and for each match values that break it alone after those.

    A base may hold an excuse that lasts (a fire some minutes ago), after which nothing can be broken: then another is tried.
    """
    for attempt in range(ATTEMPTS):
        base = base_values(rule, attempt)
        found = {}
        for match in rule.matches if base is not None else ():
            broken = broken_values(rule, match, base or {})
            if broken is None:
                break
            found[match] = broken
        if base is not None and len(found) == len(rule.matches):
            return base, found
    pytest.fail(f"no state from which each match of {rule.name} is broken alone")


def small_pack(rule: Rule) -> Pack:
    """A pack with this rule alone, without holds; its gate needs the items and is cued by a call."""
    items = [
        replace(one, after=None, follows=(), hold_s=0.0, seat="captain")
        for one in rule.matches.values()
        if isinstance(one, Item)
    ]
    watches = [
        replace(one, phases=(), hold_s=0.0, seat="captain")
        for one in rule.matches.values()
        if isinstance(one, Watch)
    ]
    pack = PackBuilder(items, gates=[push([one.id for one in items])], watches=watches).pack()
    return replace(pack, signals={**pack.signals, **signals_of(rule.parts().values())})


def frames(base: Mapping[str, Value], broken: Mapping[str, Value]) -> Iterator[Frame]:
    """A frame each second: first the base, in which the gate is cued, then the broken state."""
    for second in range(KEEP_S + BREAK_S):
        values = base if second < KEEP_S else broken
        samples = [Sample(name, value, Quality.FRESH, float(second)) for name, value in values.items()]
        calls = ("ready",) if second == 1 else ()
        yield Frame("test", float(second), float(second), 0, tuple(values), samples, calls)


@pytest.mark.parametrize("name", RULES)
def test_one_broken_match_is_told_alone(name: str) -> None:
    """For each match of each rule of our packs: with it alone broken, it alone has a finding and a notice."""
    rule = RULES[name]
    base, broken = states(rule)
    pack = small_pack(rule)
    for match in rule.matches:
        inputs = list(frames(base, broken[match]))
        judge = Judge(pack, FixedTripValues(), calls_entered=True)
        events = [event for frame in inputs for event in judge.judge_frame(frame)]
        found = [event.finding.item for event in events if isinstance(event, FindingOpened)]
        assert found == [match], events
        assert {event.item for event in events if isinstance(event, Notice)} == {match}
        live = live_events(pack, FixedTripValues(), inputs, calls_entered=True)
        assert live == batch_events(pack, FixedTripValues(), inputs, calls_entered=True)
