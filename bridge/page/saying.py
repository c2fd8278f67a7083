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

from bridge.notes import Told
from bridge.rig import Rig
from bridge.voice.queue import Priority, Utterance
from bridge.voice.reader import Reader, Revise, Say, priority_of, read_challenge
from bridge.voice.shown import as_dict
from rules.packs.model import Line

MOST_KEPT = 64
_MERELY_READ = frozenset({Priority.CHALLENGE, Priority.INFORMATION})


@dataclass(frozen=True, slots=True)
class _Kept:
    """One thing to do with the queues: say, revise or withdraw; `made_s` is when it was told."""

    number: int
    made_s: float
    do: str
    key: str
    utterance: Utterance | None


class Sayer:
    """The utterances of one rig, for all clients that listen; while none does, nothing is made."""

    def __init__(self, rig: Rig, ring: Callable[[], None]) -> None:
        """Nothing was told yet.

        Args:
            rig: is listened to from now on.
            ring: wakes the clients.
        """
        self._rig = rig
        self._ring = ring
        self._reader = Reader(rig.pack)
        self._gathered: dict[str, tuple[Utterance, float]] = {}
        self._kept: deque[_Kept] = deque(maxlen=MOST_KEPT)
        self._count = 0
        self._line: Line | None = None
        self._earfuls: weakref.WeakSet[Earful] = weakref.WeakSet()
        rig.listen(self.hear)

    def earful(self) -> Earful:
        """For one client, from now on."""
        self._gather_challenge()
        self._gathered.clear()
        earful = Earful(self, self._count)
        self._earfuls.add(earful)
        return earful

    def hear(self, told: Told) -> None:
        """Take one entry or note."""
        if not self._earfuls:
            return
        for action in self._reader.read(told):
            if isinstance(action, Say):
                self._gathered[action.utterance.key] = (action.utterance, self._now_s())
            elif isinstance(action, Revise):
                self._revise(action.utterance)
            elif self._gathered.pop(action.key, None) is None:
                self._keep("withdraw", action.key, None, self._now_s())
            self._ring()

    def since(self, number: int) -> tuple[int, list[tuple[str, object]]]:
        """What came after the action of this number, and the number of the last."""
        self._gather_challenge()
        self._settle()
        now_s = self._now_s()
        return self._count, [("say", _event(kept, now_s)) for kept in self._kept if kept.number > number]

    @property
    def held(self) -> tuple[str, ...]:
        """The priorities that are held back now."""
        levels = self._rig.session.core.quiet_levels
        held = {priority_of(level) for level in levels} | (_MERELY_READ if levels else set())
        return tuple(priority.word for priority in sorted(held))

    @property
    def silenced(self) -> bool:
        """Whether somebody silenced the session."""
        return self._rig.session.silenced

    def _revise(self, utterance: Utterance) -> None:
        """Other words for what was told before."""
        if utterance.key in self._gathered:
            self._gathered[utterance.key] = (utterance, self._gathered[utterance.key][1])
        else:
            self._keep("revise", utterance.key, utterance, self._now_s())

    def _gather_challenge(self) -> None:
        """The line that a reading has come to."""
        reading = self._rig.session.reading
        line = reading.line if reading is not None else None
        if line is self._line:
            return
        self._line = line
        if line is not None:
            said = read_challenge(line)
            self._gathered[said.key] = (said, self._now_s())

    def _settle(self) -> None:
        """Hand on what was gathered; nothing joins it any more."""
        for key, (utterance, made_s) in self._gathered.items():
            self._reader.begun(key)
            self._keep("say", key, utterance, made_s)
        self._gathered.clear()

    def _keep(self, do: str, key: str, utterance: Utterance | None, made_s: float) -> None:
        self._count += 1
        self._kept.append(_Kept(self._count, made_s, do, key, utterance))

    def _now_s(self) -> float:
        return self._rig.run.clock()


class Earful:
    """What one client has heard."""

    def __init__(self, sayer: Sayer, number: int) -> None:
        """It hears what comes after the action of this number."""
        self._sayer = sayer
        self._number = number
        self._held: tuple[str, ...] = ()
        self._silenced = False

    def __call__(self) -> list[tuple[str, object]]:
        """What is new."""
        self._number, said = self._sayer.since(self._number)
        events: list[tuple[str, object]] = []
        if (held := self._sayer.held) != self._held:
            self._held = held
            events.append(("say", {"do": "hold", "priorities": held}))
        if (silenced := self._sayer.silenced) != self._silenced:
            self._silenced = silenced
            events.append(("say", {"do": "silence", "on": silenced}))
        return [*events, *([] if silenced else said)]


def _event(kept: _Kept, now_s: float) -> dict[str, object]:
    """An action as data."""
    if kept.utterance is None:
        return {"do": kept.do, "key": kept.key}
    left_s = max(0.0, kept.utterance.ttl_s - (now_s - kept.made_s))
    return {"do": kept.do, **as_dict(kept.utterance, left_s)}
