"""The bus of one device: delivers typed events to the subscribers of their types, in a fixed order.

Durable subscribers come first, the others after them, each group in the order of subscription.  The events of one step
of judging are published together, so that a durable subscriber writes them to the disk once, before the others get them:

    publish_step([a, b])    StepEvents((a, b))    the spool, durable
                            a                     recorder, journal, timeline, notifiers, ...
                            b                     the same, in the same order

A subscriber that raises is counted and named in the log; the others are still called.  After `MAX_FAILURES` in a row it
is left out until the next session.  Durable subscribers are never left out.

A step is written before it is told; where the disk refuses, it is told all the same: a crew must hear of an open item
although the record has a problem, which is shown until the events that wait in memory are written.

A callback that publishes an event delivers it at once, so a later subscriber gets that event before the one that caused
it.

Takes: events.  Gives: calls of the subscribers; `subscribers` with the names of those of a type.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import structlog

from bridge.session.session_events import SessionEvent

MAX_FAILURES = 20


class StepEvents(NamedTuple):
    """The events of one step, for subscribers that need them together; they are published one by one after it."""

    events: Sequence[SessionEvent]


@dataclass(slots=True, eq=False)
class Subscription:
    """One subscriber and the types of its events; `failures` counts the failures in a row."""

    callback: Callable[[Any], None]
    types: tuple[type, ...]
    durable: bool
    one_session: bool
    failures: int = 0

    @property
    def name(self) -> str:
        """The name in the log: that of the function, or of the class of an object."""
        return str(getattr(self.callback, "__qualname__", type(self.callback).__name__))

    @property
    def left_out(self) -> bool:
        """True after too many failures in a row."""
        return not self.durable and self.failures >= MAX_FAILURES


class EventBus:
    """Subscriptions in order, and the delivery of events to them."""

    def __init__(self) -> None:
        """Start without subscribers."""
        self._subscriptions: list[Subscription] = []
        self._by_type: dict[type, tuple[Subscription, ...]] = {}
        self._log = structlog.get_logger("session")

    def subscribe(
        self,
        callback: Callable[[Any], None],
        *types: type,
        durable: bool = False,
        one_session: bool = False,
    ) -> Subscription:
        """Call a function with each further event of these types.

        Args:
            callback: gets the event; it must not block.
            types: the exact types of the events; a subclass is another type.
            durable: called before all others, and never left out.
            one_session: ends when the next session begins; otherwise it lasts for all sessions.

        Returns:
            The subscription, with its failures.

        Raises:
            ValueError: a type is missing, is named twice, or is the base of other types, so that no event has it.
        """
        _check_types(types)
        subscription = Subscription(callback, types, durable, one_session)
        self._subscriptions.append(subscription)
        self._index()
        return subscription

    def begin_session(self) -> None:
        """End the subscriptions for one session, and include again those that were left out."""
        self._subscriptions = [each for each in self._subscriptions if not each.one_session]
        for subscription in self._subscriptions:
            subscription.failures = 0
        self._index()

    def subscribers(self, event_type: type) -> list[str]:
        """Return the names of the subscribers of a type, in the order in which they are called, without those left out."""
        found = self._by_type.get(event_type, ())
        return [subscription.name for subscription in found if not subscription.left_out]

    def publish(self, event: object) -> None:
        """Deliver one event; never raises."""
        for subscription in self._by_type.get(type(event), ()):
            if subscription.left_out:
                continue
            try:
                subscription.callback(event)
                subscription.failures = 0
            except Exception as error:  # noqa: BLE001 - a subscriber may fail in any way; the others must be called
                self._count_failure(subscription, event, error)

    def publish_step(self, events: Sequence[SessionEvent]) -> None:
        """Deliver the events of one step together, then one by one."""
        self.publish(StepEvents(events))
        for event in events:
            self.publish(event)

    def _index(self) -> None:
        """Collect the subscribers of each type; a delivery that is running keeps its own collection."""
        ordered = sorted(self._subscriptions, key=lambda each: not each.durable)
        by_type: dict[type, list[Subscription]] = {}
        for subscription in ordered:
            for event_type in subscription.types:
                by_type.setdefault(event_type, []).append(subscription)
        self._by_type = {event_type: tuple(found) for event_type, found in by_type.items()}

    def _count_failure(self, subscription: Subscription, event: object, error: Exception) -> None:
        subscription.failures += 1
        name, event_type = subscription.name, type(event).__name__
        self._log.error(
            "subscriber failed",
            subscriber=name,
            durable=subscription.durable,
            type=event_type,
            why=repr(error),
            in_a_row=subscription.failures,
            exc_info=error,
        )
        if subscription.left_out:
            self._log.error("subscriber left out until the next session", subscriber=name)


def _check_types(types: tuple[type, ...]) -> None:
    """Refuse types of which no event would come, or each event twice."""
    if not types:
        raise ValueError("a subscription needs the types of its events")
    if len(set(types)) != len(types):
        raise ValueError(f"a type is named twice: {', '.join(each.__name__ for each in types)}")
    for each in types:
        subclasses: list[type] = each.__subclasses__()
        if subclasses:
            below = ", ".join(one.__name__ for one in subclasses)
            raise ValueError(f"no event has the type {each.__name__}; name the types below it: {below}")
