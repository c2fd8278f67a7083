"""Turns the events of a session into utterances.

Notices of one gate and level that come together are one utterance, whatever they begin with: "Before push back, five open: ...;
and two more".  So are those without a gate.  Levels are never mixed, so no lower level gets the priority of a warning.  A
finding that is corrected before it is spoken is left out.  What expires unspoken is counted in the next utterance.
The first utterance after the cue of a gate says how much was judged, unless all was.  A gate without open items is silent: the
voice never says that all is clear.

Takes: events, and lines of checklists.  Gives: actions on the speech queue; it has no clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from bridge.outputs.voice.speech_queue import SpeechPriority, Utterance
from bridge.session.session_events import SessionEvent
from rules.judge.events import (
    LEAD_IN_TEXTS,
    Callout,
    Finding,
    FindingChanged,
    GateCued,
    LeadIn,
    MonitorsReset,
    Notice,
    before_gate_text,
    phase_begun_text,
)
from rules.judge.gate_counts import counts_of, judged_speech
from rules.packs.model import ChecklistLine, Level, Pack
from rules.words import capitalised, count_in_words, number_in_words, uncapitalised

MAX_ITEMS_IN_FULL = 3
"""Open items that are spoken; the rest is counted: more are not remembered (common practice, no source)."""

TTL_S: dict[SpeechPriority, float] = {
    SpeechPriority.WARNING: 30.0,
    SpeechPriority.CALLOUT: 3.0,
    SpeechPriority.CAUTION: 25.0,
    SpeechPriority.ADVISORY: 20.0,
    SpeechPriority.CHALLENGE: 15.0,
    SpeechPriority.INFORMATION: 15.0,
}
"""The time after which an utterance expires: up to the first repetition of a notice (30 s), a moment for a callout."""

_MAX_GROUPS = 64
_PRIORITY_OF_LEVEL = {
    Level.WARNING: SpeechPriority.WARNING,
    Level.CAUTION: SpeechPriority.CAUTION,
    Level.ADVISORY: SpeechPriority.ADVISORY,
}


def priority_of(level: Level) -> SpeechPriority:
    """The speech priority of notices of a level."""
    return _PRIORITY_OF_LEVEL[level]


@dataclass(frozen=True, slots=True)
class SpeakAction:
    """Put this utterance into the queue."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class ReviseAction:
    """Replace the text of the waiting utterance with this key."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class WithdrawAction:
    """Remove the waiting utterance with this key."""

    key: str


SpeechAction: TypeAlias = SpeakAction | ReviseAction | WithdrawAction


_COUNTED_TEXTS = {
    LeadIn.UNDONE: "to check again",
    LeadIn.TOO_EARLY: "too early",
    LeadIn.OUT_OF_ORDER: "in the wrong order",
    LeadIn.LATE: "late",
}
"""Lead-ins that say what is wrong: said once where all notices of a group have the same, else before their reasons."""


class _GroupKind(NamedTuple):
    """Gate and level that the notices of a group have in common, and whether they are doubts."""

    gate: str
    level: Level
    doubts: bool


@dataclass(slots=True)
class _Group:
    """Notices that are one utterance, by the number of their finding (a negative running number if there is none).

    `kind` is what they have in common, None for a notice of its own; while `open` is true more notices may join.
    `judged_text` says at the end how much of the gate was judged, '' where that was said before.  `unspoken` are the
    findings that expired unspoken before, which are counted at the end.
    """

    key: str
    level: Level
    kind: _GroupKind | None
    gate: str
    gate_title: str
    judged_text: str = ""
    labels: Mapping[str, str] = field(default_factory=dict)
    notices: dict[int, Notice] = field(default_factory=dict)
    unspoken: set[int] = field(default_factory=set)
    open: bool = True

    def utterance(self) -> Utterance:
        """Make the utterance, with a limited number of items."""
        notices = list(self.notices.values())
        priority = priority_of(self.level)
        count = sum(len(notice.reasons) for notice in notices)
        if self.kind is None or count == 1:
            text = _single_text(notices[0])
        else:
            text = f"{_counted_lead_in(self.gate_title, notices, count)}: {_join_limited(self._reasons(notices))}."
        earlier = len(self.unspoken - self.notices.keys())
        if earlier:
            text = f"{text} {capitalised(count_in_words(earlier, 'earlier one'))} not spoken."
        if self.judged_text:
            text = f"{text} {capitalised(self.judged_text)}."
        return Utterance(self.key, priority, text, TTL_S[priority], count + earlier)

    def _reasons(self, notices: Sequence[Notice]) -> list[str]:
        """The reasons of several notices, each after what is wrong where they differ in it; of doubts what they are about."""
        if self.kind is not None and self.kind.doubts:
            return [uncapitalised(self.labels.get(notice.item, notice.item)) for notice in notices]
        mixed = len({notice.lead_in for notice in notices}) > 1
        return [
            f"{LEAD_IN_TEXTS[notice.lead_in]}, {reason}"
            if mixed and notice.lead_in in LEAD_IN_TEXTS
            else reason
            for notice in notices
            for reason in notice.reasons
        ]


class SpeechComposer:
    """Groups the notices of a session and makes utterances of them and of callouts."""

    EVENTS: tuple[type, ...] = (GateCued, Notice, FindingChanged, Callout, MonitorsReset)
    """The types that may cause an action; others cause none."""

    def __init__(self, pack: Pack) -> None:
        """Start without groups.

        Args:
            pack: contains the titles of the gates.
        """
        self._titles = {gate.id: gate.title for gate in pack.gates}
        self._labels = {item.id: item.label for item in pack.items.values()}
        self._groups: dict[str, _Group] = {}
        self._judged_texts: dict[str, str] = {}
        self._unspoken: dict[Level, set[int]] = {level: set() for level in Level}
        self._count = 0

    def actions_for(self, event: SessionEvent) -> list[SpeechAction]:
        """The actions on the queue that follow from one event."""
        match event:
            case GateCued():
                self._judged_texts[event.gate] = judged_speech(counts_of(event))
            case Notice():
                return [self._group_notice(event)]
            case FindingChanged() if event.finding.closed_s is not None:
                for unspoken in self._unspoken.values():
                    unspoken.discard(event.finding.number)
                return list(self._drop_resolved(event.finding))
            case Callout():
                return [SpeakAction(callout_utterance(event))]
            case MonitorsReset() if event.epoch:
                return [*self._drop_all(), SpeakAction(_information_utterance("reset", _RESET_TEXT))]
        return []

    def mark_started(self, key: str) -> None:
        """Close the group with this key, since it is being spoken."""
        if key in self._groups:
            self._groups[key].open = False

    def mark_ended(self, key: str, *, spoken: bool = True) -> None:
        """Forget the group with this key, since it left the queue; what was not spoken is counted in the next of its level."""
        group = self._groups.pop(key, None)
        if group is None or spoken:
            return
        self._unspoken[group.level] |= {number for number in group.notices if number > 0} | group.unspoken
        if group.judged_text:
            self._judged_texts.setdefault(group.gate, group.judged_text)

    def _group_notice(self, notice: Notice) -> SpeechAction:
        """Add a notice to its group."""
        group = self._group_for(notice)
        if group.kind is not None:
            group.judged_text = group.judged_text or self._judged_texts.pop(notice.gate, "")
        group.unspoken |= self._unspoken[notice.level]
        self._unspoken[notice.level].clear()
        group.notices[notice.finding or -self._next_number()] = notice
        return SpeakAction(group.utterance())

    def _group_for(self, notice: Notice) -> _Group:
        """The group of a notice: an open one of its kind, or a new one."""
        doubts = notice.lead_in is LeadIn.CANNOT_VERIFY
        kind = _GroupKind(notice.gate, notice.level, doubts) if notice.lead_in is not LeadIn.SUMMARY else None
        if kind is not None:
            for group in self._groups.values():
                if group.open and group.kind == kind:
                    return group
        gate_title = self._titles.get(notice.gate, "")
        key = f"notices {notice.gate or notice.lead_in} #{self._next_number()}"
        group = _Group(key, notice.level, kind, notice.gate, gate_title, labels=self._labels)
        self._groups[group.key] = group
        while len(self._groups) > _MAX_GROUPS:
            self._groups.pop(next(iter(self._groups)))
        return group

    def _next_number(self) -> int:
        self._count += 1
        return self._count

    def _drop_resolved(self, finding: Finding) -> Iterator[SpeechAction]:
        """Remove a corrected finding from its group; withdraw the group if it was the last one."""
        for group in list(self._groups.values()):
            group.unspoken.discard(finding.number)
            if finding.number in group.notices:
                del group.notices[finding.number]
                if group.notices:
                    yield ReviseAction(group.utterance())
                else:
                    del self._groups[group.key]
                    self._judged_texts.setdefault(group.gate, group.judged_text)
                    self._unspoken[group.level] |= group.unspoken
                    yield WithdrawAction(group.key)

    def _drop_all(self) -> list[SpeechAction]:
        """Withdraw every group, since the simulator's clock was reset."""
        keys = list(self._groups)
        self._groups.clear()
        self._judged_texts.clear()
        for unspoken in self._unspoken.values():
            unspoken.clear()
        return [WithdrawAction(key) for key in keys]


def callout_utterance(callout: Callout) -> Utterance:
    """The utterance of a callout."""
    priority = SpeechPriority.CALLOUT
    return Utterance(f"callout {callout.id}", priority, callout.text, TTL_S[priority])


def challenge_utterance(line: ChecklistLine) -> Utterance:
    """The utterance of a checklist line: its challenge without the answer, which the crew gives."""
    return Utterance("challenge", SpeechPriority.CHALLENGE, line.challenge, TTL_S[SpeechPriority.CHALLENGE])


def _information_utterance(key: str, text: str) -> Utterance:
    return Utterance(key, SpeechPriority.INFORMATION, text, TTL_S[SpeechPriority.INFORMATION])


_RESET_TEXT = "The simulator's clock was reset. All checks start again."


def _counted_lead_in(gate_title: str, notices: Sequence[Notice], count: int) -> str:
    """The lead-in of several notices: `Before push back, three open`, or `Before taxi, three still open`."""
    lead_ins = {notice.lead_in for notice in notices}
    (common,) = lead_ins if len(lead_ins) == 1 else (LeadIn.NONE,)
    state = {LeadIn.STILL_OPEN: "still open", LeadIn.CANNOT_VERIFY: "cannot be verified", **_COUNTED_TEXTS}
    counted = f"{number_in_words(count)} {state.get(common, 'open')}"
    if not gate_title:
        return capitalised(counted)
    begun = LeadIn.PHASE_BEGUN in lead_ins
    return f"{phase_begun_text(gate_title) if begun else before_gate_text(gate_title)}, {counted}"


def _single_text(notice: Notice) -> str:
    """The text of one notice; the items of a summary are limited."""
    if len(notice.reasons) < 2:
        return notice.sentence
    return f"{len(notice.reasons)} still open: {_join_limited(notice.reasons)}."


def _join_limited(sentences: Sequence[str]) -> str:
    """Join the first few sentences and the number of the others."""
    if len(sentences) <= MAX_ITEMS_IN_FULL + 1:
        return "; ".join(sentences)
    rest = number_in_words(len(sentences) - MAX_ITEMS_IN_FULL)
    return f"{'; '.join(sentences[:MAX_ITEMS_IN_FULL])}; and {rest} more"
