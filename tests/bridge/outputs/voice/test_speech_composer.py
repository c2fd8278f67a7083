"""Tests of bridge.outputs.voice.speech_composer: utterances of events, their texts and their groups."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

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
from rules.judge.events import Callout, GateCued, JudgeEvent, LeadIn, MonitorsReset, PhaseEntered
from rules.packs.model import ChecklistLine, Level
from rules.words import number_in_words
from tests.bridge.outputs.voice.sample_findings import notice, pack, resolved, summary

GROUPED = [
    each
    for each in LeadIn
    if each not in (LeadIn.NONE, LeadIn.SUMMARY, LeadIn.CANNOT_VERIFY, LeadIn.PHASE_BEGUN)
]


def utterances(actions: list[SpeechAction]) -> list[Utterance]:
    """The utterances of the actions that speak."""
    return [action.utterance for action in actions if isinstance(action, SpeakAction)]


def last(composer: SpeechComposer, *events: JudgeEvent) -> Utterance:
    """The last utterance after these events."""
    actions: list[SpeechAction] = []
    for event in events:
        actions += composer.actions_for(event)
    return utterances(actions)[-1]


def test_a_single_open_item_is_spoken_as_its_notice() -> None:
    """One notice at a cue is one sentence, with the priority of its level."""
    composer = SpeechComposer(pack())
    utterance = last(composer, GateCued(10.0, "push", 1, 9, 9, 0), notice("beacon is off", 1))
    assert utterance.text == "Before push back: beacon is off."
    assert utterance.priority is SpeechPriority.CAUTION
    assert utterance.ttl_s == TTL_S[SpeechPriority.CAUTION]


def test_the_first_utterance_of_a_gate_says_how_much_was_judged() -> None:
    """Where not all needs of a gate could be judged, its first utterance says so in a short form, and no other does."""
    composer = SpeechComposer(pack())
    composer.actions_for(GateCued(10.0, "push", 2, 79, 18, 0))
    low = last(composer, notice("a is off", 1), notice("b is off", 2))
    assert low.text == "Before push back, two open: a is off; b is off. Eighteen of seventy-nine judged."
    warning = last(composer, notice("c is off", 3, Level.WARNING))
    assert warning.text == "Before push back: c is off."
    composer.mark_started(low.key)
    assert last(composer, notice("a is off", 1)).text == "Before push back: a is off."
    composer.actions_for(GateCued(90.0, "push", 2, 79, 18, 0))
    assert last(composer, notice("d is off", 4)).text.endswith(" Eighteen of seventy-nine judged.")


def test_an_utterance_that_is_withdrawn_leaves_the_rest_to_the_next() -> None:
    """If the first utterance is withdrawn unheard, the next one says how much was judged."""
    composer = SpeechComposer(pack())
    composer.actions_for(GateCued(10.0, "push", 1, 79, 18, 0))
    composer.actions_for(notice("a is off", 1))
    composer.actions_for(resolved(1))
    assert last(composer, notice("b is off", 2)).text.endswith(" Eighteen of seventy-nine judged.")


def test_a_gate_without_open_items_is_silent() -> None:
    """The voice never says that all is clear, whether all was judged or little."""
    composer = SpeechComposer(pack())
    for judged in (0, 18, 79):
        assert composer.actions_for(GateCued(10.0, "push", 0, 79, judged, 0)) == []


def test_events_without_speech() -> None:
    """Cues, phases, and changes of open findings are not spoken."""
    composer = SpeechComposer(pack())
    for event in (
        GateCued(10.0, "push", 3, 9, 9, 0),
        PhaseEntered(11.0, "pushing", "stand"),
        resolved(4, closed_s=None),
    ):
        assert composer.actions_for(event) == []


def test_open_items_of_one_cue_are_one_utterance() -> None:
    """Notices of one gate and level have one key, so that each is spoken once, with their count."""
    composer, queue = SpeechComposer(pack()), SpeechQueue()
    for number, what in enumerate(["beacon is off", "aft door is open", "pump is off"], 1):
        for utterance in utterances(composer.actions_for(notice(f"{what}", number))):
            queue.put(utterance, 0.0)
    (waiting,) = queue.waiting
    assert waiting.text == ("Before push back, three open: beacon is off; aft door is open; pump is off.")


def test_the_items_of_an_utterance_are_limited() -> None:
    """After the first three items the rest is counted."""
    composer = SpeechComposer(pack())
    utterance = last(composer, *(notice(f"item {n} is off", n) for n in range(1, 9)))
    assert utterance.text == (
        "Before push back, eight open: item 1 is off; item 2 is off; item 3 is off; and five more."
    )
    assert speech_text(utterance.text).endswith("item three is off; and five more.")


def test_warnings_are_not_grouped_with_lower_levels() -> None:
    """A warning of the same gate is an utterance of its own."""
    composer = SpeechComposer(pack())
    low = last(composer, notice("beacon is off", 1))
    warning = last(composer, notice("door is open", 2, Level.WARNING))
    assert warning.text == "Before push back: door is open."
    assert (low.priority, warning.priority) == (SpeechPriority.CAUTION, SpeechPriority.WARNING)
    assert low.key != warning.key


@pytest.mark.parametrize(
    ("lead_in", "speech"),
    [
        (LeadIn.STILL_OPEN, "Before push back, two still open: a is off; b is off."),
        (LeadIn.PHASE_BEGUN, "Push back has begun, two open: a is off; b is off."),
        (LeadIn.UNDONE, "Before push back, two to check again: a is off; b is off."),
        (LeadIn.TOO_EARLY, "Before push back, two too early: a is off; b is off."),
        (LeadIn.LATE, "Before push back, two late: a is off; b is off."),
        (LeadIn.NONE, "Two open: a is off; b is off."),
    ],
)
def test_other_lead_ins(lead_in: LeadIn, speech: str) -> None:
    """Notices that begin alike are grouped under their own lead-in."""
    composer = SpeechComposer(pack())
    events = notice("a is off", 1, lead_in=lead_in), notice("b is off", 2, lead_in=lead_in)
    assert last(composer, *events).text == speech


def test_prose_is_not_read_back() -> None:
    """A reason that itself looks like a lead-in or a list of reasons stays one reason."""
    composer = SpeechComposer(pack())
    odd = "before push back, still open: a; b"
    utterance = last(composer, notice(odd, 1), notice("c", 2), notice("d", 3, lead_in=LeadIn.STILL_OPEN))
    assert utterance.text == f"Before push back, three open: {odd}; c; d."
    assert last(composer, summary(odd, "f")).text == f"2 still open: {odd}; f."


def test_every_kind_of_notice_joins_the_utterance_of_its_gate_and_level() -> None:
    """However notices begin, those of one gate and level are one utterance: three items, and how many more."""
    composer = SpeechComposer(pack())
    many = [notice(f"item {n} is off", n, lead_in=LeadIn.UNDONE) for n in range(1, 20)]
    kinds = [notice(f"kind {k} is off", 20 + k, lead_in=lead_in) for k, lead_in in enumerate(GROUPED)]
    utterance = last(composer, *many, *kinds)
    assert len({each.key for each in utterances([a for n in many for a in composer.actions_for(n)])}) == 1
    assert utterance.text == (
        f"Before push back, {number_in_words(19 + len(GROUPED))} open: check again, item 1 is off; check again, item 2 is off;"
        f" check again, item 3 is off; and {number_in_words(16 + len(GROUPED))} more."
    )
    assert utterance.notice_count == 19 + len(GROUPED)


def test_a_reminder_of_several_is_counted_by_its_findings() -> None:
    """A notice with several reasons counts them, alone and in a group."""
    composer = SpeechComposer(pack())
    reminder = replace(notice("a", 0, lead_in=LeadIn.STILL_OPEN), reasons=("a is off", "b is off"))
    assert last(composer, reminder).text == "Before push back, two still open: a is off; b is off."
    assert (
        last(composer, notice("c is off", 3)).text
        == "Before push back, three open: a is off; b is off; c is off."
    )


def test_doubts_are_no_open_items() -> None:
    """What cannot be verified is an utterance of its own, which names the items and not why each is in doubt."""
    composer = SpeechComposer(pack())
    doubts = [
        replace(notice("1.8 s of data missing", n, Level.ADVISORY, lead_in=LeadIn.CANNOT_VERIFY), item=i)
        for n, i in ((1, "flow.before.beacon"), (2, "flow.before.other"))
    ]
    open_item = last(composer, notice("pump is off", 3, Level.ADVISORY))
    utterance = last(composer, *doubts)
    assert utterance.key != open_item.key
    assert utterance.text == "Before push back, two cannot be verified: beacon; flow.before.other."


def test_notices_without_a_gate_are_one_utterance_for_each_level() -> None:
    """Limits that are exceeded at one time do not wait for each other; levels stay apart."""
    composer = SpeechComposer(pack())
    hot = notice("Hot start: engine 1 EGT 760 degC", 1, Level.WARNING, lead_in=LeadIn.NONE)
    oil = notice("Oil pressure 2 psi", 2, Level.WARNING, lead_in=LeadIn.NONE)
    low = notice("Fuel imbalance 600 kg", 3, lead_in=LeadIn.NONE)
    assert last(composer, hot).text == "Hot start: engine 1 EGT 760 degC."
    assert last(composer, oil).text == "Two open: Hot start: engine 1 EGT 760 degC; Oil pressure 2 psi."
    assert last(composer, low).text == "Fuel imbalance 600 kg."


def test_what_expires_unspoken_is_counted_in_the_next_utterance_of_its_level() -> None:
    """Nothing is lost in silence: those of it that are still open are counted, once."""
    composer = SpeechComposer(pack())
    expired = last(composer, *(notice(f"{n} is off", k) for k, n in enumerate("abcd", 1)))
    composer.mark_ended(expired.key, spoken=False)
    composer.actions_for(resolved(2))
    assert last(composer, notice("door is open", 8, Level.WARNING)).text == "Before push back: door is open."
    later = last(composer, notice("e is off", 5))
    assert later.text == "Before push back: e is off. Three earlier ones not spoken."
    assert later.notice_count == 4
    assert last(composer, notice("a is off", 1)).text.endswith("; a is off. Two earlier ones not spoken.")
    composer.mark_ended(later.key, spoken=False)
    assert last(composer, notice("f is off", 6)).text.endswith("f is off. Four earlier ones not spoken.")


def test_how_much_was_judged_does_not_expire_either() -> None:
    """It is said with the next utterance of the gate."""
    composer = SpeechComposer(pack())
    composer.actions_for(GateCued(10.0, "push", 1, 79, 18, 0))
    composer.mark_ended(last(composer, notice("a is off", 1)).key, spoken=False)
    assert last(composer, notice("b is off", 2)).text.endswith(" Eighteen of seventy-nine judged.")


def test_no_notice_joins_a_group_that_is_being_spoken() -> None:
    """A later notice of the gate is an utterance of its own."""
    composer = SpeechComposer(pack())
    started = last(composer, notice("a is off", 1), notice("b is off", 2))
    composer.mark_started(started.key)
    later = last(composer, notice("c is off", 3))
    assert later.text == "Before push back: c is off."
    assert later.key != started.key


def test_a_corrected_finding_is_left_out() -> None:
    """A finding closed before it is spoken is removed from its group; with the last one the group is withdrawn."""
    composer = SpeechComposer(pack())
    utterance = last(composer, *(notice(f"{n} is off", k) for k, n in enumerate("abc", 1)))
    assert composer.actions_for(resolved(2)) == [
        ReviseAction(
            Utterance(
                utterance.key,
                utterance.priority,
                "Before push back, two open: a is off; c is off.",
                utterance.ttl_s,
                2,
            )
        )
    ]
    (alone,) = composer.actions_for(resolved(3))
    assert isinstance(alone, ReviseAction)
    assert alone.utterance.text == "Before push back: a is off."
    assert composer.actions_for(resolved(1)) == [WithdrawAction(utterance.key)]
    assert composer.actions_for(resolved(1)) == []


def test_a_group_that_ended_is_forgotten() -> None:
    """After a group was spoken, the correction of its findings has no effect."""
    composer = SpeechComposer(pack())
    utterance = last(composer, notice("a is off", 1))
    composer.mark_started(utterance.key)
    composer.mark_ended(utterance.key)
    assert composer.actions_for(resolved(1)) == []


def test_the_items_of_a_summary_are_limited() -> None:
    """The summary after a quiet period has its first three items and a count."""
    utterance = last(SpeechComposer(pack()), summary(*"abcde"))
    assert utterance.text == "5 still open: a; b; c; and two more."


def test_summaries_do_not_replace_each_other() -> None:
    """Two notices without a finding are two utterances."""
    composer = SpeechComposer(pack())
    keys = {last(composer, summary("a; b", "c")).key for _ in range(2)}
    assert len(keys) == 2


def test_callouts() -> None:
    """A callout has the text of its pack, its own priority, and expires after 3 s."""
    utterance = last(SpeechComposer(pack()), Callout(60.0, "cross_check", "80 knots"))
    assert utterance == Utterance("callout cross_check", SpeechPriority.CALLOUT, "80 knots", 3.0)


def test_a_reset_withdraws_every_group() -> None:
    """A reset of the simulator's clock withdraws every group and is spoken; the first start is not."""
    composer = SpeechComposer(pack())
    utterance = last(composer, notice("a is off", 1))
    withdrawn, information = composer.actions_for(MonitorsReset(0.0, 1))
    assert withdrawn == WithdrawAction(utterance.key)
    assert isinstance(information, SpeakAction)
    assert information.utterance.priority is SpeechPriority.INFORMATION
    assert composer.actions_for(MonitorsReset(0.0, 0)) == []


def test_a_challenge_is_spoken_without_its_answer() -> None:
    """The crew answers; a newer challenge has the same key, so it replaces one that waits."""
    first = challenge_utterance(
        ChecklistLine("checklist.x.fuel", "Fuel", "{fuel.total} kilograms", ("checklist.x.fuel",))
    )
    second = challenge_utterance(ChecklistLine("checklist.x.beacon", "Beacon", "on", ("checklist.x.beacon",)))
    assert (first.text, first.priority) == ("Fuel", SpeechPriority.CHALLENGE)
    assert first.key == second.key


def test_the_number_of_groups_is_limited() -> None:
    """Of many groups the composer keeps only the latest ones."""
    composer = SpeechComposer(pack())
    for number in range(1, 500):
        composer.mark_started(last(composer, notice("beacon is off", number, lead_in=LeadIn.UNDONE)).key)
    assert composer.actions_for(resolved(1)) == []
    assert len(composer.actions_for(resolved(499))) == 1
