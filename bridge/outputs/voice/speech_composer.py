"""What of the entries is said aloud, and in which words.

Notices of one gate that come together are said in one breath: "Before push back, three open: ...; and two more".  Warnings
keep to themselves, so that nothing lower rides on them.  What was mended before it was said is left out.

Takes: entries with their time, and challenges.  Gives: actions on the speech queue, nothing else: it has no clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from bridge.outputs.voice.speech_queue import SpeechPriority, Utterance
from bridge.outputs.voice.vocabulary import number_in_words
from bridge.session.session_events import SessionEvent
from rules.judge.events import Callout, Finding, FindingChanged, MonitorsReset, Notice
from rules.judge.wording import before_gate_text, phase_begun_text
from rules.packs.model import ChecklistLine, Level, Pack

MAX_ITEMS_IN_FULL = 3
"""So many open items are said one by one; the rest is counted: more is not kept in mind (common practice, no source)."""

TTL_S: dict[SpeechPriority, float] = {
    SpeechPriority.WARNING: 30.0,
    SpeechPriority.CALLOUT: 3.0,
    SpeechPriority.CAUTION: 25.0,
    SpeechPriority.ADVISORY: 20.0,
    SpeechPriority.CHALLENGE: 15.0,
    SpeechPriority.INFORMATION: 15.0,
}
"""For how long each is worth saying: about the first telling anew (30 s) for notices, a moment for callouts."""

_MAX_GROUPS = 64
_PRIORITY_OF_LEVEL = {
    Level.WARNING: SpeechPriority.WARNING,
    Level.CAUTION: SpeechPriority.CAUTION,
    Level.ADVISORY: SpeechPriority.ADVISORY,
}


def priority_of(level: Level) -> SpeechPriority:
    """Where notices of a level stand."""
    return _PRIORITY_OF_LEVEL[level]


@dataclass(frozen=True, slots=True)
class SpeakAction:
    """Let it wait for its turn."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class ReviseAction:
    """Say this instead, if what has its key is still to be said."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class WithdrawAction:
    """Leave this unsaid."""

    key: str


SpeechAction: TypeAlias = SpeakAction | ReviseAction | WithdrawAction


@dataclass(slots=True)
class _Group:
    """Notices that are said in one breath: a number of a finding (or a running one) with its sentence.

    `lead` is what they all begin with, '' for a notice that stands alone; while `open`, more may join.
    """

    key: str
    lead_in: str
    priority: SpeechPriority
    sentences: dict[int, str] = field(default_factory=dict)
    full_sentences: dict[int, str] = field(default_factory=dict)
    open: bool = True

    def utterance(self) -> Utterance:
        """All of it, bounded."""
        sentences = list(self.sentences.values())
        if len(sentences) == 1:
            text = next(iter(self.full_sentences.values()))
        else:
            text = f"{_counted_lead_in(self.lead_in, len(sentences))}: {_join_limited(sentences)}."
        return Utterance(self.key, self.priority, text, TTL_S[self.priority])


class SpeechComposer:
    """Turns what a session tells into what is to be said."""

    def __init__(self, pack: Pack) -> None:
        """Nothing was told yet.

        Args:
            pack: has the gates' titles.
        """
        self._titles = {gate.id: gate.title for gate in pack.gates}
        self._groups: dict[str, _Group] = {}
        self._count = 0

    def actions_for(self, event: SessionEvent) -> list[SpeechAction]:
        """What one entry means for the queue."""
        match event:
            case Notice():
                return [self._group_notice(event)]
            case FindingChanged() if event.finding.closed_s is not None:
                return list(self._drop_resolved(event.finding))
            case Callout():
                return [SpeakAction(callout_utterance(event))]
            case MonitorsReset() if event.epoch:
                return [*self._drop_all(), SpeakAction(_information_utterance("reset", _RESET_TEXT))]
        return []

    def mark_started(self, key: str) -> None:
        """What has this key is being said: nothing may join it any more."""
        if key in self._groups:
            self._groups[key].open = False

    def mark_ended(self, key: str) -> None:
        """What has this key will not be said any more."""
        self._groups.pop(key, None)

    def _group_notice(self, notice: Notice) -> SpeechAction:
        """Let a notice join its gate's, or stand alone."""
        priority = priority_of(notice.level)
        lead, sentence = self._split_lead_in(notice)
        group = self._group_for(notice, lead, priority)
        number = notice.finding or -self._next_number()
        group.sentences[number] = sentence
        group.full_sentences[number] = _limit_summary(notice.sentence) if not notice.item else notice.sentence
        return SpeakAction(group.utterance())

    def _group_for(self, notice: Notice, lead: str, priority: SpeechPriority) -> _Group:
        """The group that a notice joins: an open one of the same beginning, or a new one."""
        for group in self._groups.values():
            if lead and group.open and group.lead_in == lead and group.priority is priority:
                return group
        about = lead or f"finding {notice.finding}"
        group = _Group(
            f"{about} #{self._next_number()}" if lead or not notice.finding else about, lead, priority
        )
        self._groups[group.key] = group
        while len(self._groups) > _MAX_GROUPS:
            self._groups.pop(next(iter(self._groups)))
        return group

    def _next_number(self) -> int:
        self._count += 1
        return self._count

    def _split_lead_in(self, notice: Notice) -> tuple[str, str]:
        """What a notice of a gate begins with, and the rest; '' for one that stands alone."""
        title = self._titles.get(notice.gate, "")
        if title:
            before = before_gate_text(title)
            for lead in (before, f"{before}, still open", phase_begun_text(title)):
                if notice.sentence.startswith(f"{lead}: "):
                    return lead, notice.sentence.removeprefix(f"{lead}: ").rstrip(".")
        return "", notice.sentence

    def _drop_resolved(self, finding: Finding) -> Iterator[SpeechAction]:
        """Leave out what was mended before it was said."""
        for group in list(self._groups.values()):
            if finding.number in group.sentences:
                del group.sentences[finding.number], group.full_sentences[finding.number]
                if group.sentences:
                    yield ReviseAction(group.utterance())
                else:
                    del self._groups[group.key]
                    yield WithdrawAction(group.key)

    def _drop_all(self) -> list[SpeechAction]:
        """The flight begins anew elsewhere: nothing that waits is so any more."""
        keys = list(self._groups)
        self._groups.clear()
        return [WithdrawAction(key) for key in keys]


def callout_utterance(entry: Callout) -> Utterance:
    """What is said at a moment of the flight."""
    return Utterance(f"callout {entry.id}", SpeechPriority.CALLOUT, entry.text, TTL_S[SpeechPriority.CALLOUT])


def challenge_utterance(line: ChecklistLine) -> Utterance:
    """The challenge of a checklist's line; the answer is the crew's."""
    return Utterance("challenge", SpeechPriority.CHALLENGE, line.challenge, TTL_S[SpeechPriority.CHALLENGE])


def _information_utterance(key: str, text: str) -> Utterance:
    return Utterance(key, SpeechPriority.INFORMATION, text, TTL_S[SpeechPriority.INFORMATION])


_RESET_TEXT = "The simulator's clock went back. All is judged anew."


def _counted_lead_in(lead: str, number: int) -> str:
    """'Before push back, three open'; 'Before taxi, three still open'."""
    start, still = (
        (lead.removesuffix(", still open"), "still ") if lead.endswith(", still open") else (lead, "")
    )
    return f"{start}, {number_in_words(number)} {still}open"


def _join_limited(sentences: Sequence[str]) -> str:
    """The first few, and how many more."""
    if len(sentences) <= MAX_ITEMS_IN_FULL + 1:
        return "; ".join(sentences)
    rest = number_in_words(len(sentences) - MAX_ITEMS_IN_FULL)
    return f"{'; '.join(sentences[:MAX_ITEMS_IN_FULL])}; and {rest} more"


def _limit_summary(text: str) -> str:
    """A summary that holds more than is kept in mind, cut after the first few."""
    return f"{_join_limited(text.rstrip('.').split('; '))}."
