"""What a page says aloud through its browser: utterances as they come, and what is held back or silenced.

Each client has its own queue in its browser, by the same rules as ours; here the utterances are made once for all.  Notices of one
gate that come in one step are one utterance: they are gathered until the first client asks for what is new.

Takes: a rig's entries, as a listener.  Gives: `Sayer`, and for each client an `Earful`, an extra of its stream.
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
    """One thing to do with the queues: say, revise or withdraw; `made_s` is when it was told."""

    number: int
    created_s: float
    action: str
    key: str
    utterance: Utterance | None


class SpeechSource:
    """The utterances of one rig, for all clients that listen; while none does, nothing is made."""

    def __init__(self, device: Device, wake_clients: Callable[[], None]) -> None:
        """Nothing was told yet.

        Args:
            device: is listened to from now on.
            wake_clients: wakes the clients.
        """
        self._device = device
        self._wake_clients = wake_clients
        self._reader = SpeechComposer(device.pack)
        self._pending: dict[str, tuple[Utterance, float]] = {}
        self._actions: deque[_SpeechAction] = deque(maxlen=MAX_ACTIONS)
        self._last_number = 0
        self._challenge_line: ChecklistLine | None = None
        self._feeds: weakref.WeakSet[SpeechFeed] = weakref.WeakSet()
        device.add_listener(self.on_event)

    def open_feed(self) -> SpeechFeed:
        """For one client, from now on."""
        self._queue_challenge()
        self._pending.clear()
        earful = SpeechFeed(self, self._last_number)
        self._feeds.add(earful)
        return earful

    def on_event(self, event: SessionEvent) -> None:
        """Take one entry or note."""
        if not self._feeds:
            return
        for action in self._reader.actions_for(event):
            if isinstance(action, SpeakAction):
                self._pending[action.utterance.key] = (action.utterance, self._now_s())
            elif isinstance(action, ReviseAction):
                self._revise(action.utterance)
            elif self._pending.pop(action.key, None) is None:
                self._append("withdraw", action.key, None, self._now_s())
            self._wake_clients()

    def since(self, number: int) -> tuple[int, list[tuple[str, object]]]:
        """What came after the action of this number, and the number of the last."""
        self._queue_challenge()
        self._flush()
        now_s = self._now_s()
        return self._last_number, [
            ("say", _event_data(kept, now_s)) for kept in self._actions if kept.number > number
        ]

    @property
    def held_priorities(self) -> tuple[str, ...]:
        """The priorities that are held back now."""
        levels = self._device.session.judge.quiet_levels
        held = {priority_of(level) for level in levels} | (_INFORMATION_PRIORITIES if levels else set())
        return tuple(priority.label for priority in sorted(held))

    @property
    def muted(self) -> bool:
        """Whether somebody silenced the session."""
        return self._device.session.muted

    def _revise(self, utterance: Utterance) -> None:
        """Other words for what was told before."""
        if utterance.key in self._pending:
            self._pending[utterance.key] = (utterance, self._pending[utterance.key][1])
        else:
            self._append("revise", utterance.key, utterance, self._now_s())

    def _queue_challenge(self) -> None:
        """The line that a reading has come to."""
        reading = self._device.session.checklist_run
        line = reading.line if reading is not None else None
        if line is self._challenge_line:
            return
        self._challenge_line = line
        if line is not None:
            said = challenge_utterance(line)
            self._pending[said.key] = (said, self._now_s())

    def _flush(self) -> None:
        """Hand on what was gathered; nothing joins it any more."""
        for key, (utterance, made_s) in self._pending.items():
            self._reader.mark_started(key)
            self._append("say", key, utterance, made_s)
        self._pending.clear()

    def _append(self, action: str, key: str, utterance: Utterance | None, created_s: float) -> None:
        self._last_number += 1
        self._actions.append(_SpeechAction(self._last_number, created_s, action, key, utterance))

    def _now_s(self) -> float:
        return self._device.runner.clock()


class SpeechFeed:
    """What one client has heard."""

    def __init__(self, source: SpeechSource, number: int) -> None:
        """It hears what comes after the action of this number."""
        self._source = source
        self._number = number
        self._held_priorities: tuple[str, ...] = ()
        self._muted = False

    def __call__(self) -> list[tuple[str, object]]:
        """What is new."""
        self._number, said = self._source.since(self._number)
        events: list[tuple[str, object]] = []
        if (held := self._source.held_priorities) != self._held_priorities:
            self._held_priorities = held
            events.append(("say", {"do": "hold", "priorities": held}))
        if (silenced := self._source.muted) != self._muted:
            self._muted = silenced
            events.append(("say", {"do": "silence", "on": silenced}))
        return [*events, *([] if silenced else said)]


def _event_data(action: _SpeechAction, now_s: float) -> dict[str, object]:
    """An action as data."""
    if action.utterance is None:
        return {"do": action.action, "key": action.key}
    left_s = max(0.0, action.utterance.ttl_s - (now_s - action.created_s))
    return {"do": action.action, **utterance_data(action.utterance, left_s)}
