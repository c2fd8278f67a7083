"""Composes the utterances that browsers speak, and tells them what is held back or muted.

Utterances are composed once for all clients; each browser has its own queue, with the rules of the watch's own queue.  Notices of
one gate in one step become one utterance: they stay in `_pending` until the first client asks for news.

    notice A, notice B       _pending: one utterance for both
    client 1 asks            action 1: speak "A and B"     -> client 1
    notice C                 _pending: a new utterance, for the first one may already be spoken
    client 2 asks            action 2: speak "C"           -> client 2 gets 1 and 2, client 1 gets 2 later

Takes: the events of a device, as a subscriber.  Gives: `SpeechSource`, and a `SpeechFeed` for each client's stream.
"""

from __future__ import annotations

import weakref
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from bridge.outputs.voice.speech_composer import (
    ReviseAction,
    SpeakAction,
    SpeechComposer,
    challenge_utterance,
    priority_of,
)
from bridge.outputs.voice.speech_queue import SpeechPriority, Utterance
from bridge.outputs.voice.utterance_data import utterance_data
from bridge.runtime.device import Device
from bridge.session.session_events import SessionEvent
from rules.packs.model import ChecklistLine

MAX_ACTIONS = 64
_INFORMATION_PRIORITIES = frozenset({SpeechPriority.CHALLENGE, SpeechPriority.INFORMATION})


@dataclass(frozen=True, slots=True)
class _SpeechAction:
    """One action for the queues of the clients: speak, revise or withdraw."""

    number: int
    created_s: float
    action: str
    key: str
    utterance: Utterance | None


class SpeechSource:
    """The utterances of one device; none are composed while no client listens."""

    def __init__(self, device: Device, wake_clients: Callable[[], None]) -> None:
        """Listen to the device from now on.

        Args:
            device: the device.
            wake_clients: called when there is news for the clients.
        """
        self._device = device
        self._wake_clients = wake_clients
        self._reader = SpeechComposer(device.pack)
        self._pending: dict[str, tuple[Utterance, float]] = {}
        self._actions: deque[_SpeechAction] = deque(maxlen=MAX_ACTIONS)
        self._last_number = 0
        self._challenge_line: ChecklistLine | None = None
        self._feeds: weakref.WeakSet[SpeechFeed] = weakref.WeakSet()
        device.bus.subscribe(self.on_event, *SpeechComposer.EVENTS)

    def open_feed(self) -> SpeechFeed:
        """Open the feed of one client; it gets what comes from now on."""
        # The current challenge is noted and dropped: a client that comes late does not hear an old line.
        self._queue_challenge()
        self._pending.clear()
        feed = SpeechFeed(self, self._last_number)
        self._feeds.add(feed)
        return feed

    def on_event(self, event: SessionEvent) -> None:
        """Compose the utterance of an event, if it has one."""
        if not self._feeds:
            return
        for action in self._reader.actions_for(event):
            if isinstance(action, SpeakAction):
                self._pending[action.utterance.key] = (action.utterance, self._now_s())
            elif isinstance(action, ReviseAction):
                self._revise(action.utterance)
            elif self._pending.pop(action.key, None) is None:
                # The clients have it already; one that was still pending is dropped without a word.
                self._append("withdraw", action.key, None, self._now_s())
            self._wake_clients()

    def since(self, number: int) -> tuple[int, list[tuple[str, object]]]:
        """Return the number of the last action, and the events after the action with the given number."""
        self._queue_challenge()
        self._flush()
        now_s = self._now_s()
        return self._last_number, [
            ("speech", _event_data(action, now_s)) for action in self._actions if action.number > number
        ]

    @property
    def held_priorities(self) -> tuple[str, ...]:
        """The priorities that quiet periods hold back now."""
        levels = self._device.session.current_snapshot().quiet_levels
        held = {priority_of(level) for level in levels} | (_INFORMATION_PRIORITIES if levels else set())
        return tuple(priority.label for priority in sorted(held))

    @property
    def muted(self) -> bool:
        """True if the instructor muted the session."""
        return self._device.session.muted

    def _revise(self, utterance: Utterance) -> None:
        """Change the text of an utterance, in place if no client has it yet."""
        if utterance.key in self._pending:
            self._pending[utterance.key] = (utterance, self._pending[utterance.key][1])
        else:
            self._append("revise", utterance.key, utterance, self._now_s())

    def _queue_challenge(self) -> None:
        """Add the challenge of the current checklist line to the pending utterances, once for each line."""
        run = self._device.session.checklist_run
        line = run.line if run is not None else None
        if line is self._challenge_line:
            return
        self._challenge_line = line
        if line is not None:
            utterance = challenge_utterance(line)
            self._pending[utterance.key] = (utterance, self._now_s())

    def _flush(self) -> None:
        """Turn the pending utterances into actions; later notices start new utterances."""
        for key, (utterance, created_s) in self._pending.items():
            self._reader.mark_started(key)
            self._append("speak", key, utterance, created_s)
        self._pending.clear()

    def _append(self, action: str, key: str, utterance: Utterance | None, created_s: float) -> None:
        self._last_number += 1
        self._actions.append(_SpeechAction(self._last_number, created_s, action, key, utterance))

    def _now_s(self) -> float:
        return self._device.source.clock()


class SpeechFeed:
    """The position of one client in the actions of a source."""

    def __init__(self, source: SpeechSource, number: int) -> None:
        """Start after the action with this number."""
        self._source = source
        self._number = number
        self._held_priorities: tuple[str, ...] = ()
        self._muted = False

    def __call__(self) -> list[tuple[str, object]]:
        """Return the new events."""
        self._number, actions = self._source.since(self._number)
        events: list[tuple[str, object]] = []
        if (held := self._source.held_priorities) != self._held_priorities:
            self._held_priorities = held
            events.append(("speech", {"do": "hold", "priorities": held}))
        if (muted := self._source.muted) != self._muted:
            self._muted = muted
            events.append(("speech", {"do": "mute", "on": muted}))
        return [*events, *([] if muted else actions)]


def _event_data(action: _SpeechAction, now_s: float) -> dict[str, object]:
    """Convert an action to the data of its event, with the time left until the utterance expires."""
    if action.utterance is None:
        return {"do": action.action, "key": action.key}
    left_s = max(0.0, action.utterance.ttl_s - (now_s - action.created_s))
    return {"do": action.action, **utterance_data(action.utterance, left_s)}
