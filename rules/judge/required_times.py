"""Times in which an item asked for something and was met.

`if A then B` is true also while A is false, and `A unless B` while B excuses: the item is met then, but it asks for nothing,
and no crew has done anything.  An item that is lost after such a time was not undone.

    if icing then anti-ice on      icing      no    no    yes   yes   yes
                                   anti-ice   off   off   off   on    off
                                   item       met   met   open  met   open
                                   undone?                no          yes

Takes: the context, ids of changed conditions.  Gives: the items whose such time ended in this step, and since when it lasted.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from rules.judge.condition_ids import monitored_conditions, required_id
from rules.judge.context import JudgeContext


@dataclass(slots=True)
class _Stretch:
    """One such time of an item: `since_s` while it lasts; `ended_s` and `ended_since_s` of the one before it."""

    item: str
    since_s: float | None = None
    ended_s: float | None = None
    ended_since_s: float | None = None


class RequiredTimes:
    """Notes these times for the items whose condition can be true without asking for anything."""

    def __init__(self, context: JudgeContext) -> None:
        """Note nothing yet.

        Args:
            context: State of the judge.
        """
        self._context = context
        monitored = monitored_conditions(context.pack).keys()
        self._stretches = {
            required_id(item): _Stretch(item) for item in context.pack.items if required_id(item) in monitored
        }

    def covers(self, item: str) -> bool:
        """True for an item whose condition can be true without asking for anything."""
        return required_id(item) in self._stretches

    def reset(self) -> None:
        """Forget all times."""
        self._stretches = {name: _Stretch(stretch.item) for name, stretch in self._stretches.items()}

    def restart(self, item: str) -> None:
        """Forget an item's times; one that lasts begins now."""
        name = required_id(item)
        if name in self._stretches:
            met = self._context.monitors.truth(name) is True
            self._stretches[name] = _Stretch(item, since_s=self._context.sim_s if met else None)

    def update(self, changed: Collection[str]) -> Iterator[tuple[str, float]]:
        """Note the changes of this step.

        Yields:
            Each item whose time ended now, and since when it had lasted, in simulated seconds.
        """
        now_s = self._context.sim_s
        for name in self._stretches.keys() & changed:
            stretch = self._stretches[name]
            if self._context.monitors.truth(name) is True:
                # What was unknown for no simulated time, as in a stall of the sender, has gone on.
                stretch.since_s = stretch.ended_since_s if stretch.ended_s == now_s else now_s
            elif stretch.since_s is not None:
                stretch.ended_s, stretch.ended_since_s, stretch.since_s = now_s, stretch.since_s, None
                yield stretch.item, stretch.ended_since_s
