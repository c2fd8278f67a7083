"""Monitors: conditions kept up to date, at the cost of what a changed signal or a due timer touches.

Takes: checked conditions, the state's fresh values, changed samples and calls.  Gives: truths, the ids
whose truth changed, and reasons.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from rules.language.checked import Condition, Event, Term
from rules.language.explain import LABELS, Names, explain
from rules.language.live.build import Graph
from rules.language.live.conditions import HeldNode
from rules.language.truth import Reason, Truth
from rules.signals.model import Sample, Value


class Known(Protocol):
    """What monitors ask of the state."""

    values: dict[str, Value]

    def sample(self, name: str) -> Sample:
        """The signal's latest sample, of whatever quality."""


class Monitors:
    """Watches conditions by id.

    `steady` is for a still picture: what the first step shows counts as having been so for ever.
    `calls_heard` is False where it is not known that anybody enters calls: until the first one of any
    kind, that a call was not made is unknown.  `names` says what signals are called in reasons.
    """

    def __init__(
        self,
        conditions: Mapping[str, Condition],
        state: Known,
        *,
        steady: bool = False,
        calls_heard: bool = True,
        names: Names = LABELS,
    ) -> None:
        self._conditions = dict(conditions)
        self._state = state
        self._steady = steady
        self._heard = calls_heard
        self._names = names
        self._told: dict[str, Truth] = {}
        self._last: dict[str, Truth] = dict.fromkeys(self._conditions)
        self._begin()

    def _begin(self) -> None:
        self._graph = self._make_graph()
        self._agenda = self._graph.agenda
        self._begun = False
        if not self._heard:
            for event in self._graph.calls.values():
                event.deafen()
        for item in self._told:
            self._tell(item)

    def _make_graph(self) -> Graph:
        """The nodes of the conditions, with nothing known."""
        return Graph(self._conditions, self._state.values)

    def restart(self) -> None:
        """Begin anew, as after a jump of the simulator's clock; what was told by `set_item` stays."""
        self._last = {name: node.truth for name, node in self._graph.roots.items()}
        self._begin()

    def set_item(self, item: str, truth: Truth) -> None:
        """Say what `ITEM is met` gives, from the next step on, whatever its own condition says."""
        self._told[item] = truth
        self._tell(item)

    def _tell(self, item: str) -> None:
        node = self._graph.externals.get(item)
        if node is not None:
            node.tell_truth(self._told[item])
            self._agenda.queue(node)

    def forget_calls(self, calls: Iterable[str]) -> set[str]:
        """Take these calls as never made, from the present on: the flight has come back to before them.

        Returns:
            The ids whose truth is another than before.
        """
        for name in calls:
            event = self._graph.calls.get(name)
            if event is not None and self._heard:
                event.hear()
                self._agenda.queue(event)
        self._agenda.settle()
        return self._changed()

    def take_back(self, call: str, *, unheard: bool = False) -> set[str]:
        """Take the latest making of a call as if it had not been.

        Args:
            call: Its name.
            unheard: Whether no call is left, so that it is again unknown whether anybody enters calls.

        Returns:
            The ids whose truth is another than before.
        """
        event = self._graph.calls.get(call)
        if event is not None:
            event.take_back()
            self._agenda.queue(event)
        if unheard:
            self._heard = False
            for known in self._graph.calls.values():
                known.deafen()
                self._agenda.queue(known)
        self._agenda.settle()
        return self._changed()

    @property
    def calls_heard(self) -> bool:
        """Whether it is known that calls are entered."""
        return self._heard

    def truth(self, name: str) -> Truth:
        """The present truth of a condition."""
        return self._graph.roots[name].truth

    def explain(self, name: str) -> Reason:
        """Why the condition is what it is."""
        return explain(self._conditions[name], self, self._names)

    def advance(self, sim_s: float, samples: Sequence[Sample], calls: Sequence[str] = ()) -> set[str]:
        """Go to a time at which samples changed (the state has them already) and calls were made.

        Args:
            sim_s: The simulator's clock in seconds; earlier than the present counts as the present.
            samples: Those whose value or quality changed at that time.
            calls: Names of calls made at that time.

        Returns:
            The ids whose truth is another than before.
        """
        if not self._begun:
            return self._first(sim_s, calls)
        agenda = self._agenda
        agenda.run_until(max(sim_s, agenda.now_s))
        self._touch(samples)
        if calls:
            self._call(calls)
        agenda.settle()
        return self._changed() if agenda.before else set()

    def _first(self, sim_s: float, calls: Sequence[str]) -> set[str]:
        """Look at everything once."""
        agenda = self._agenda
        agenda.run_until(sim_s)
        agenda.origin_s = sim_s if self._steady else agenda.origin_s
        self._begun = True
        self._call(calls)
        for node in self._graph.order:
            agenda.queue(node)
        agenda.settle()
        agenda.before.clear()
        return {name for name, truth in self._last.items() if self.truth(name) is not truth}

    def _touch(self, samples: Sequence[Sample]) -> None:
        """Compare anew what the samples can have changed."""
        atoms, watchers, agenda = self._graph.atoms, self._graph.watchers, self._agenda
        for sample in samples:
            for decide, atom in atoms.get(sample[0], ()):
                truth = decide()
                if truth is not atom.truth:
                    old, atom.truth = atom.truth, truth
                    agenda.spread(atom, old)
            for node in watchers.get(sample[0], ()):
                agenda.queue(node)

    def _call(self, calls: Sequence[str]) -> None:
        if calls and not self._heard:
            self._heard = True
            for known in self._graph.calls.values():
                known.hear()
                self._agenda.queue(known)
        for name in calls:
            event = self._graph.calls.get(name)
            if event is not None:
                event.made(self._agenda.now_s)
                self._agenda.queue(event)

    def _changed(self) -> set[str]:
        """The ids that are not what they were when the step began."""
        before = self._agenda.before
        names = {name for node, old in before.items() if node.truth is not old for name in node.ids}
        before.clear()
        return names

    # -- what the explanation asks --------------------------------------------------------------

    def truth_of(self, condition: Condition) -> Truth:
        """The present truth of any sub-condition."""
        return self._graph.nodes[condition].truth

    def value_of(self, term: Term) -> float | None:
        """The present value of a term, None where unknown."""
        return self._graph.read(term)

    def happened(self, event: Event) -> Truth:
        """Whether an event has happened."""
        marks = self._graph.event(event).marks
        return True if marks.sure else (None if marks.possible else False)

    def condition_of(self, item: str) -> Condition | None:
        """The condition of an item, None where its truth is told from outside."""
        return None if item in self._told else self._conditions.get(item)

    def sample(self, name: str) -> Sample:
        """The signal's latest sample."""
        return self._state.sample(name)

    def held_s(self, condition: Condition) -> float:
        """For how long a condition that has to hold has been so; 0 where it is not."""
        node = self._graph.nodes[condition]
        if not isinstance(node, HeldNode) or not node.track.run.value:
            return 0.0
        return self._agenda.now_s - node.track.run.start_s
