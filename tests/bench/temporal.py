"""Translates conditions with time to signal temporal logic, for rtamt's online monitors in discrete time.

| ours                               | theirs                                 | where they differ                          |
|------------------------------------|----------------------------------------|--------------------------------------------|
| `c for D`                          | `historically[0:D](c)`                 | before the history is D long, ours unknown |
| `c became true`                    | `once(rise(c))`                        | c true at the first sample: ours unknown   |
| `c became true within the last D`  | `once[0:D-T](rise(c))`, T one frame    | the same                                   |
| `(c) happened within the last D`   | `once[0:D](c)`                         | before the history is D long, ours unknown |
| `p since c became true`            | `p since (p and rise(c))`              | c true at the first sample: ours unknown   |
| `call.x happened`                  | `once(x)`, x set in the frame of it    | nowhere                                    |

Frames in which ours is unknown are not compared, nor those with a margin of exactly 0, which is both true and false.  A
word becomes a number, its position among the signal's words.  Each formula is a specification of its own, because rtamt
shares the memory of equal parts within a specification and would update it twice; each gets the changed values only.

Takes: a pack; frames.  Gives: `temporal_conditions`, `RtamtPeer`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from rules.faults import Place
from rules.language import checked_tree as c
from rules.language.check import check
from rules.language.scope import Scope
from rules.language.traversal import walk
from rules.packs.condition_facts import signals_read
from rules.packs.model import Pack
from rules.signals.model import Sample, Value
from tests.bench.flight_frames import RATE_HZ, conditions_without_figures
from tests.bench.translate import constant, flat

FRAME_MS = round(1000 / RATE_HZ)

PREDICATES = (
    "engine.1.n2 > 25.3 %",
    "engine.2.n2 > 25.3 %",
    "engine.1.egt > 402.5 degC",
    "engine.2.oil_pressure > 20.7 psi",
    "hydraulics.1.pressure in 2805..3205 psi",
    "hydraulics.2.pressure > 1503 psi",
    "flight.ground_speed > 1.3 kt",
    "lights.beacon is on",
    "gear.parking_brake is released",
    "bleed.duct.left > 20.3 psi",
    "gear.brake_accumulator > 2503 psi",
    "fuel.pump.left_aft.low_pressure is off",
)
FORMS = (
    "({p}) for 2 s",
    "({p}) for 10 s",
    "({p}) became true",
    "({p}) became true within the last 10 s",
    "({p}) happened within the last 5 s",
    "({q}) since ({p}) became true",
)


def temporal_conditions(pack: Pack) -> dict[str, c.Condition]:
    """Give the pack's conditions with time that have a counterpart, and every form of every predicate."""
    found = {
        name: condition
        for name, condition in conditions_without_figures(pack).items()
        if _has_counterpart(condition)
    }
    scope = Scope(pack.signals, {}, {}, {}, "", ())
    for number, predicate in enumerate(PREDICATES):
        other = PREDICATES[(number + 7) % len(PREDICATES)]
        for form in FORMS:
            text = form.format(p=predicate, q=other)
            found[text] = check(text, scope, lambda offset: Place("bench", 1, offset + 1))
    return found


def _has_counterpart(condition: c.Condition) -> bool:
    """Check if a condition depends on time and rtamt has all its operators."""
    parts = list(walk(condition))
    timed = any(isinstance(part, c.TimedHistorically | c.Once | c.TimedOnce | c.Since) for part in parts)
    other = (c.BeforeAfter, c.Sweep, c.Window, c.EventCount, c.ItemMet, c.Estimate, c.FaultyCondition)
    return timed and not any(isinstance(part, other) for part in parts) and _translatable(condition)


def _translatable(condition: c.Condition) -> bool:
    """Check if the translator below can write all of it (it cannot write sums)."""
    try:
        Stl().write(condition)
    except KeyError:
        return False
    return True


class Stl:
    """Writes a checked condition as a formula, and collects its variables."""

    def __init__(self) -> None:
        self.variables: set[str] = set()

    def write(self, node: c.Condition | c.Event) -> str:
        """Write the formula of a condition or event."""
        writers: dict[type, Callable[[Any], str]] = {
            c.Relation: self._relation,
            c.Between: lambda n: (
                f"(({self._number(n.term)} >= {constant(n.low)!r}) and ({self._number(n.term)} <= {constant(n.high)!r}))"
            ),
            c.WithinTolerance: lambda n: (
                f"(abs({self._number(n.term)} - {self._number(n.target)}) <= {constant(n.tolerance)!r})"
            ),
            c.WordIs: self._word,
            c.And: lambda n: "(" + " and ".join(map(self.write, n.parts)) + ")",
            c.Or: lambda n: "(" + " or ".join(map(self.write, n.parts)) + ")",
            c.Not: lambda n: f"(not {self.write(n.part)})",
            c.Unless: lambda n: f"({self.write(n.part)} or {self.write(n.excuse)})",
            c.Implies: lambda n: f"((not {self.write(n.when)}) or {self.write(n.then)})",
            c.TimedHistorically: lambda n: f"(historically[0:{_ms(n.seconds)}ms]{self.write(n.part)})",
            c.Once: lambda n: f"(once {self.write(n.event)})",
            c.TimedOnce: self._recent,
            c.Since: lambda n: (
                f"({self.write(n.part)} since ({self.write(n.part)} and {self.write(n.event)}))"
            ),
            c.Rise: lambda n: f"(rise{self.write(n.part)})",
            c.Whenever: lambda n: self.write(n.part),
            c.CallEvent: lambda n: f"({self._variable(f'call.{n.name}')} >= 0.5)",
        }
        return writers[type(node)](node)

    def _variable(self, name: str) -> str:
        self.variables.add(name)
        return flat(name)

    def _number(self, term: c.Term) -> str:
        if isinstance(term, c.Constant):
            return repr(float(term.value))
        if isinstance(term, c.SignalValue) and (term.factor, term.offset) == (1.0, 0.0):
            return self._variable(term.signal.name)
        raise KeyError(type(term))

    def _relation(self, node: c.Relation) -> str:
        left, right = self._number(node.left), self._number(node.right)
        near = f"(abs({left} - {right}) <= 0.000001)"  # their language has no `==` for margins, and no `!=`
        return {"=": near, "!=": f"(not {near})"}.get(node.op, f"({left} {node.op} {right})")

    def _word(self, node: c.WordIs) -> str:
        name = self._variable(node.signal.name)
        places = [node.signal.words.index(word) for word in node.words]
        inside = " or ".join(f"(abs({name} - {float(place)!r}) <= 0.5)" for place in places)
        return f"(not ({inside}))" if node.negated else f"({inside})"

    def _recent(self, node: c.TimedOnce) -> str:
        span_ms = _ms(node.seconds) - (0 if isinstance(node.event, c.Whenever) else FRAME_MS)
        return f"(once[0:{span_ms}ms]{self.write(node.event)})"


def _ms(seconds: float) -> int:
    return round(seconds * 1000)


class RtamtPeer:
    """rtamt: one online monitor for each formula, updated once in each frame."""

    name = "rtamt online"

    def __init__(
        self, conditions: Mapping[str, c.Condition], values: Mapping[str, Value], pack: Pack
    ) -> None:
        self._signals = pack.signals
        self._specs: list[Any] = []
        self._pending: list[list[tuple[str, float]]] = []
        self._readers: dict[str, list[list[tuple[str, float]]]] = {}
        self._current_calls: list[str] = []
        for condition in conditions.values():
            self._add(condition, values)

    def _add(self, condition: c.Condition, values: Mapping[str, Value]) -> None:
        import rtamt

        stl, spec = Stl(), rtamt.StlDiscreteTimeSpecification()
        formula = stl.write(condition)
        for name in sorted(stl.variables):
            spec.declare_var(flat(name), "float")
        spec.declare_var("out", "float")
        spec.set_sampling_period(FRAME_MS, "ms", 0.1)
        spec.spec = f"out = {formula}"
        spec.parse()
        first = [(flat(name), self._own(name, values.get(name, 0.0))) for name in sorted(stl.variables)]
        self._specs.append(spec)
        self._pending.append(first)
        for name in stl.variables:
            self._readers.setdefault(name, []).append(first)

    def _own(self, name: str, value: Value) -> float:
        """Convert a value; a word becomes its position among the signal's words."""
        return float(self._signals[name].words.index(value)) if isinstance(value, str) else float(value)

    def update(self, changes: Iterable[Sample], calls: Iterable[str] = ()) -> None:
        """Queue the changed values for the formulas that read them; a call is true for one frame."""
        for call in self._current_calls:
            self._queue_value(call, 0.0)
        self._current_calls = [f"call.{call}" for call in calls]
        for call in self._current_calls:
            self._queue_value(call, 1.0)
        for name, value, _, _ in changes:
            if name in self._readers and value is not None:
                self._queue_value(name, self._own(name, value))

    def _queue_value(self, name: str, value: float) -> None:
        for pending in self._readers.get(name, ()):
            pending.append((flat(name), value))

    def judge(self, sim_s: float) -> list[float]:
        """Update every monitor and give the margins, in the order of the conditions."""
        margins = []
        for spec, pending in zip(self._specs, self._pending, strict=True):
            margins.append(spec.update(sim_s, pending))
            pending.clear()
        return margins


def signals_of(conditions: Mapping[str, c.Condition]) -> frozenset[str]:
    """List every signal that the conditions read."""
    return frozenset().union(*(signals_read(condition) for condition in conditions.values()))
