"""Tests of bridge.outputs.voice.speech_composer: what of the entries is said, and in which words."""

from __future__ import annotations

import pytest

from bridge.outputs.voice.speech_composer import (
    TTL_S,
    ReviseAction,
    SpeakAction,
    SpeechAction,
    SpeechComposer,
    WithdrawAction,
    challenge_utterance,
)
from bridge.outputs.voice.speech_queue import SpeechPriority, SpeechQueue, Utterance
from bridge.outputs.voice.speech_text import speech_text
from rules.judge.events import Callout, GateCued, JudgeEvent, MonitorsReset, PhaseEntered
from rules.packs.model import ChecklistLine, Level
from tests.bridge.outputs.voice.sample_findings import notice, pack, resolved


def utterances(actions: list[SpeechAction]) -> list[Utterance]:
    """Those that are to be said."""
    return [action.utterance for action in actions if isinstance(action, SpeakAction)]


def last(reader: SpeechComposer, *entries: JudgeEvent) -> Utterance:
    """What is to be said after these entries."""
    actions: list[SpeechAction] = []
    for entry in entries:
        actions += reader.actions_for(entry)
    return utterances(actions)[-1]


def test_a_single_open_item_is_said_as_its_notice() -> None:
    """One notice at a cue is one sentence, at its level."""
    reader = SpeechComposer(pack())
    said = last(reader, GateCued(10.0, "push", 1), notice("Before push back: beacon is off, needs on.", 1))
    assert said.text == "Before push back: beacon is off, needs on."
    assert said.priority is SpeechPriority.CAUTION
    assert said.ttl_s == TTL_S[SpeechPriority.CAUTION]


def test_a_clean_cue_says_nothing() -> None:
    """The cue itself, phases, and findings that are still open are not said."""
    reader = SpeechComposer(pack())
    for entry in (
        GateCued(10.0, "push", 3),
        PhaseEntered(11.0, "pushing", "stand"),
        resolved(4, closed_s=None),
    ):
        assert reader.actions_for(entry) == []


def test_open_items_of_one_cue_are_said_in_one_breath_and_once() -> None:
    """Notices of one gate and level replace each other under one key, counted, so that none is said twice."""
    reader, queue = SpeechComposer(pack()), SpeechQueue()
    for number, what in enumerate(["beacon is off", "aft door is open, needs closed", "pump is off"], 1):
        for utterance in utterances(reader.actions_for(notice(f"Before push back: {what}.", number))):
            queue.put(utterance, 0.0)
    (waiting,) = queue.waiting
    assert waiting.text == (
        "Before push back, three open: beacon is off; aft door is open, needs closed; pump is off."
    )


def test_many_are_bounded() -> None:
    """After the first three the rest is counted."""
    reader = SpeechComposer(pack())
    said = last(reader, *(notice(f"Before push back: item {n} is off.", n) for n in range(1, 9)))
    assert said.text == (
        "Before push back, eight open: item 1 is off; item 2 is off; item 3 is off; and five more."
    )
    assert speech_text(said.text).endswith("item three is off; and five more.")


def test_warnings_keep_to_themselves() -> None:
    """A warning of the same gate is an utterance of its own, and nothing lower rides on it."""
    reader = SpeechComposer(pack())
    low = last(reader, notice("Before push back: beacon is off.", 1))
    grave = last(reader, notice("Before push back: door is open.", 2, Level.WARNING))
    assert grave.text == "Before push back: door is open."
    assert (low.priority, grave.priority) == (SpeechPriority.CAUTION, SpeechPriority.WARNING)
    assert low.key != grave.key


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("Before push back, still open: a is off.", "Before push back, still open: b is off.",
         "Before push back, two still open: a is off; b is off."),
        ("Push back has begun: a is off.", "Push back has begun: b is off.",
         "Push back has begun, two open: a is off; b is off."),
    ],
)  # fmt: skip
def test_other_beginnings(first: str, second: str, said: str) -> None:
    """What is still open, and what is open in the new phase, is gathered under its own words."""
    assert last(SpeechComposer(pack()), notice(first, 1), notice(second, 2)).text == said


def test_what_stands_alone_stays_alone() -> None:
    """Undone items and watches are sentences of their own; told again, the newer one takes the place."""
    reader = SpeechComposer(pack())
    first = last(reader, notice("Undone: beacon is off.", 1))
    other = last(reader, notice("Hot start: engine 1 EGT 760 degC.", 2, Level.WARNING, gate=""))
    again = last(reader, notice("Undone: beacon is off.", 1))
    assert first.key == again.key != other.key
    assert other.text == "Hot start: engine 1 EGT 760 degC."


def test_nothing_joins_what_is_being_said() -> None:
    """Once a group is begun, a later notice of the gate is said by itself."""
    reader = SpeechComposer(pack())
    begun = last(reader, notice("Before push back: a is off.", 1), notice("Before push back: b is off.", 2))
    reader.mark_started(begun.key)
    later = last(reader, notice("Before push back: c is off.", 3))
    assert later.text == "Before push back: c is off."
    assert later.key != begun.key


def test_what_was_mended_is_left_out() -> None:
    """A finding that is closed before it was said drops out of its group; the last one takes the group along."""
    reader = SpeechComposer(pack())
    said = last(reader, *(notice(f"Before push back: {n} is off.", k) for k, n in enumerate("abc", 1)))
    assert reader.actions_for(resolved(2)) == [
        ReviseAction(
            Utterance(said.key, said.priority, "Before push back, two open: a is off; c is off.", said.ttl_s)
        )
    ]
    (alone,) = reader.actions_for(resolved(3))
    assert isinstance(alone, ReviseAction)
    assert alone.utterance.text == "Before push back: a is off."
    assert reader.actions_for(resolved(1)) == [WithdrawAction(said.key)]
    assert reader.actions_for(resolved(1)) == []


def test_what_ended_is_forgotten() -> None:
    """After a group was said, a finding of it that is mended changes nothing any more."""
    reader = SpeechComposer(pack())
    said = last(reader, notice("Before push back: a is off.", 1))
    reader.mark_started(said.key)
    reader.mark_ended(said.key)
    assert reader.actions_for(resolved(1)) == []


def test_a_summary_is_bounded_too() -> None:
    """What a quiet period held back is told by its first three and a count."""
    said = last(SpeechComposer(pack()), notice("5 still open: a; b; c; d; e.", 0, gate="", what=""))
    assert said.text == "5 still open: a; b; c; and two more."


def test_summaries_do_not_replace_each_other() -> None:
    """Two notices without a finding are two utterances."""
    reader = SpeechComposer(pack())
    keys = {last(reader, notice("2 still open: a; b.", 0, gate="", what="")).key for _ in range(2)}
    assert len(keys) == 2


def test_callouts() -> None:
    """A callout is said as its pack has it, at its place, and for a moment only."""
    said = last(SpeechComposer(pack()), Callout(60.0, "cross_check", "80 knots"))
    assert said == Utterance("callout cross_check", SpeechPriority.CALLOUT, "80 knots", 3.0)


def test_a_reset_clears_what_waits_and_says_so() -> None:
    """When the simulator's clock goes back, nothing that waits is so any more; the first beginning says nothing."""
    reader = SpeechComposer(pack())
    said = last(reader, notice("Before push back: a is off.", 1))
    withdrawn, told = reader.actions_for(MonitorsReset(0.0, 1))
    assert withdrawn == WithdrawAction(said.key)
    assert isinstance(told, SpeakAction)
    assert told.utterance.priority is SpeechPriority.INFORMATION
    assert reader.actions_for(MonitorsReset(0.0, 0)) == []


def test_a_challenge_is_read_without_its_answer() -> None:
    """The answer is the crew's; a newer challenge replaces one that waits."""
    first = challenge_utterance(ChecklistLine("Fuel", "{fuel.total} kilograms", "checklist.x.1"))
    second = challenge_utterance(ChecklistLine("Beacon", "on", "checklist.x.2"))
    assert (first.text, first.priority) == ("Fuel", SpeechPriority.CHALLENGE)
    assert first.key == second.key


def test_memory_is_bounded() -> None:
    """However many notices come, the reader keeps only the latest groups."""
    reader = SpeechComposer(pack())
    for number in range(1, 500):
        reader.actions_for(notice("Undone: beacon is off.", number))
    assert reader.actions_for(resolved(1)) == []
    assert len(reader.actions_for(resolved(499))) == 1
