"""What of the entries is said aloud, and in which words.

Notices of one gate that come together are said in one breath: "Before push back, three open: ...; and two more".  Warnings
keep to themselves, so that nothing lower rides on them.  What was mended before it was said is left out.

Takes: entries with their time, and challenges.  Gives: actions on the speech queue, nothing else: it has no clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from bridge.notes import Told
from bridge.voice.queue import Priority, Utterance
from bridge.voice.vocabulary import counted
from rules.judge.entries import Callout, Finding, FindingChanged, MonitorsReset, Notice
from rules.judge.wording import before_gate, begun
from rules.packs.model import Level, Line, Pack

MOST_SAID = 3
"""So many open items are said one by one; the rest is counted: more is not kept in mind (common practice, no source)."""

TTL_S: dict[Priority, float] = {
    Priority.WARNING: 30.0,
    Priority.CALLOUT: 3.0,
    Priority.CAUTION: 25.0,
    Priority.ADVISORY: 20.0,
    Priority.CHALLENGE: 15.0,
    Priority.INFORMATION: 15.0,
}
"""For how long each is worth saying: about the first telling anew (30 s) for notices, a moment for callouts."""

_MOST_GROUPS = 64
_OF_LEVEL = {
    Level.WARNING: Priority.WARNING,
    Level.CAUTION: Priority.CAUTION,
    Level.ADVISORY: Priority.ADVISORY,
}


def priority_of(level: Level) -> Priority:
    """Where notices of a level stand."""
    return _OF_LEVEL[level]


@dataclass(frozen=True, slots=True)
class Say:
    """Let it wait for its turn."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class Revise:
    """Say this instead, if what has its key is still to be said."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class Withdraw:
    """Leave this unsaid."""

    key: str


Action: TypeAlias = Say | Revise | Withdraw


@dataclass(slots=True)
class _Group:
    """Notices that are said in one breath: a number of a finding (or a running one) with its sentence.

    `lead` is what they all begin with, '' for a notice that stands alone; while `open`, more may join.
    """

    key: str
    lead: str
    priority: Priority
    sentences: dict[int, str] = field(default_factory=dict)
    whole: dict[int, str] = field(default_factory=dict)
    open: bool = True

    def utterance(self) -> Utterance:
        """All of it, bounded."""
        sentences = list(self.sentences.values())
        if len(sentences) == 1:
            text = next(iter(self.whole.values()))
        else:
            text = f"{_counted_lead(self.lead, len(sentences))}: {_bounded(sentences)}."
        return Utterance(self.key, self.priority, text, TTL_S[self.priority])


class Reader:
    """Turns what a session tells into what is to be said."""

    def __init__(self, pack: Pack) -> None:
        """Nothing was told yet.

        Args:
            pack: has the gates' titles.
        """
        self._titles = {gate.id: gate.title for gate in pack.gates}
        self._groups: dict[str, _Group] = {}
        self._count = 0

    def read(self, told: Told) -> list[Action]:
        """What one entry means for the queue."""
        match told:
            case Notice():
                return [self._notice(told)]
            case FindingChanged() if told.finding.closed_s is not None:
                return list(self._mended(told.finding))
            case Callout():
                return [Say(callout(told))]
            case MonitorsReset() if told.epoch:
                return [*self._forgotten(), Say(_information("reset", _RESET))]
        return []

    def begun(self, key: str) -> None:
        """What has this key is being said: nothing may join it any more."""
        if key in self._groups:
            self._groups[key].open = False

    def ended(self, key: str) -> None:
        """What has this key will not be said any more."""
        self._groups.pop(key, None)

    def _notice(self, notice: Notice) -> Action:
        """Let a notice join its gate's, or stand alone."""
        priority = priority_of(notice.level)
        lead, sentence = self._lead(notice)
        group = self._group(notice, lead, priority)
        number = notice.finding or -self._next()
        group.sentences[number] = sentence
        group.whole[number] = _shortened(notice.sentence) if not notice.item else notice.sentence
        return Say(group.utterance())

    def _group(self, notice: Notice, lead: str, priority: Priority) -> _Group:
        """The group that a notice joins: an open one of the same beginning, or a new one."""
        for group in self._groups.values():
            if lead and group.open and group.lead == lead and group.priority is priority:
                return group
        about = lead or f"finding {notice.finding}"
        group = _Group(f"{about} #{self._next()}" if lead or not notice.finding else about, lead, priority)
        self._groups[group.key] = group
        while len(self._groups) > _MOST_GROUPS:
            self._groups.pop(next(iter(self._groups)))
        return group

    def _next(self) -> int:
        self._count += 1
        return self._count

    def _lead(self, notice: Notice) -> tuple[str, str]:
        """What a notice of a gate begins with, and the rest; '' for one that stands alone."""
        title = self._titles.get(notice.gate, "")
        if title:
            before = before_gate(title)
            for lead in (before, f"{before}, still open", begun(title)):
                if notice.sentence.startswith(f"{lead}: "):
                    return lead, notice.sentence.removeprefix(f"{lead}: ").rstrip(".")
        return "", notice.sentence

    def _mended(self, finding: Finding) -> Iterator[Action]:
        """Leave out what was mended before it was said."""
        for group in list(self._groups.values()):
            if finding.number in group.sentences:
                del group.sentences[finding.number], group.whole[finding.number]
                if group.sentences:
                    yield Revise(group.utterance())
                else:
                    del self._groups[group.key]
                    yield Withdraw(group.key)

    def _forgotten(self) -> list[Action]:
        """The flight begins anew elsewhere: nothing that waits is so any more."""
        keys = list(self._groups)
        self._groups.clear()
        return [Withdraw(key) for key in keys]


def callout(entry: Callout) -> Utterance:
    """What is said at a moment of the flight."""
    return Utterance(f"callout {entry.id}", Priority.CALLOUT, entry.text, TTL_S[Priority.CALLOUT])


def read_challenge(line: Line) -> Utterance:
    """The challenge of a checklist's line; the answer is the crew's."""
    return Utterance("challenge", Priority.CHALLENGE, line.challenge, TTL_S[Priority.CHALLENGE])


def _information(key: str, text: str) -> Utterance:
    return Utterance(key, Priority.INFORMATION, text, TTL_S[Priority.INFORMATION])


_RESET = "The simulator's clock went back. All is judged anew."


def _counted_lead(lead: str, number: int) -> str:
    """'Before push back, three open'; 'Before taxi, three still open'."""
    start, still = (
        (lead.removesuffix(", still open"), "still ") if lead.endswith(", still open") else (lead, "")
    )
    return f"{start}, {counted(number)} {still}open"


def _bounded(sentences: Sequence[str]) -> str:
    """The first few, and how many more."""
    if len(sentences) <= MOST_SAID + 1:
        return "; ".join(sentences)
    rest = counted(len(sentences) - MOST_SAID)
    return f"{'; '.join(sentences[:MOST_SAID])}; and {rest} more"


def _shortened(text: str) -> str:
    """A summary that holds more than is kept in mind, cut after the first few."""
    return f"{_bounded(text.rstrip('.').split('; '))}."
