"""Evaluates the same conditions without time in hand-written Python, in rule-engine and in CEL.

Each peer gets its fastest form: all conditions as one list, compiled once.  Values are converted on arrival, to decimals
for rule-engine and to its own types for CEL.  Otherwise rule-engine converts at each reading, and CEL copies its context
for every program (three times as slow with one program for each condition).

Takes: conditions.  Gives: `Peer`, which takes the changed values and gives all truth values.
"""

from __future__ import annotations

import operator
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any, ClassVar

from rules.language.checked_tree import Condition
from rules.packs.condition_facts import signals_read
from rules.signals.model import Sample, Value
from tests.bench.translate import Cel, Dialect, Python, RuleEngine, flat


class Peer(ABC):
    """Base class of the peers."""

    name: ClassVar[str]

    @abstractmethod
    def update(self, changes: Iterable[Sample]) -> None:
        """Update the values."""

    @abstractmethod
    def judge(self) -> list[bool]:
        """Evaluate all conditions, in their order."""


def as_list(dialect: Dialect, conditions: Mapping[str, Condition], separator: str = ", ") -> str:
    """Write all conditions as one list."""
    return "[" + separator.join(dialect.write(condition) for condition in conditions.values()) + "]"


class HandWritten(Peer):
    """Straight-line Python over a dictionary of values, which evaluates everything each time."""

    name = "hand-written Python"

    def __init__(self, conditions: Mapping[str, Condition], values: Mapping[str, Value]) -> None:
        body = as_list(Python(), conditions, separator=",\n        ")
        self.source = f"def judge(v):\n    return {body}\n"
        space: dict[str, Any] = {}
        exec(compile(self.source, "hand_written", "exec"), space)  # noqa: S102 - our own checked conditions
        self._judge: Callable[[dict[str, Value]], list[bool]] = space["judge"]
        self._values = dict(values)

    def update(self, changes: Iterable[Sample]) -> None:
        """Update the dictionary."""
        values = self._values
        for name, value, _, _ in changes:
            if value is not None:
                values[name] = value

    def judge(self) -> list[bool]:
        """Call the function."""
        return self._judge(self._values)


class RuleEnginePeer(Peer):
    """The rule-engine library, with its fastest resolver."""

    name = "rule-engine"

    def __init__(self, conditions: Mapping[str, Condition], values: Mapping[str, Value]) -> None:
        import rule_engine

        context = rule_engine.Context(resolver=operator.getitem)
        self._rule = rule_engine.Rule(as_list(RuleEngine(), conditions), context=context)
        self._values = {flat(name): self._own(value) for name, value in values.items()}

    @staticmethod
    def _own(value: Value) -> Decimal | str:
        return value if isinstance(value, str) else Decimal(repr(value))

    def update(self, changes: Iterable[Sample]) -> None:
        """Convert the changed values."""
        for name, value, _, _ in changes:
            if value is not None:
                self._values[flat(name)] = self._own(value)

    def judge(self) -> list[bool]:
        """Evaluate the list."""
        return list(self._rule.evaluate(self._values))


class CelPeer(Peer):
    """The cel-python library, with its faster (compiling) runner and only the values that the conditions read."""

    name = "cel-python"

    def __init__(self, conditions: Mapping[str, Condition], values: Mapping[str, Value]) -> None:
        import celpy
        from celpy.celparser import CELParser

        # The library shares one parser between all environments; it must be created for this runner.
        CELParser.CEL_PARSER = None
        environment = celpy.Environment(runner_class=celpy.CompiledRunner)
        self._program = environment.program(environment.compile(as_list(Cel(), conditions)))
        self._double, self._string = celpy.celtypes.DoubleType, celpy.celtypes.StringType
        self._read = frozenset().union(*(signals_read(condition) for condition in conditions.values()))
        self._values: dict[str, Any] = {
            flat(name): self._own(value) for name, value in values.items() if name in self._read
        }

    def _own(self, value: Value) -> object:
        return self._string(value) if isinstance(value, str) else self._double(value)

    def update(self, changes: Iterable[Sample]) -> None:
        """Convert the changed values that the conditions read."""
        for name, value, _, _ in changes:
            if value is not None and name in self._read:
                self._values[flat(name)] = self._own(value)

    def judge(self) -> list[bool]:
        """Evaluate the list."""
        truths: Any = self._program.evaluate(self._values)
        return [bool(truth) for truth in truths]


PEERS: tuple[type[HandWritten] | type[RuleEnginePeer] | type[CelPeer], ...] = (
    HandWritten,
    RuleEnginePeer,
    CelPeer,
)
