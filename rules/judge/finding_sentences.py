"""The sentence that says why a finding is still open.

Takes: a finding, the state of its item or watch.  Gives: text.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.judge.condition_ids import expect_id
from rules.judge.context import JudgeContext
from rules.judge.events import Finding
from rules.judge.findings import FindingKey, RuleKind
from rules.judge.items import Items
from rules.judge.own_sentences import own_sentence


class FindingSentence(NamedTuple):
    """Reason for which a finding is open; `own` is True for a sentence of the pack's own, which needs no label."""

    text: str
    own: bool = False


def current_sentence(
    context: JudgeContext, items: Items, key: FindingKey, finding: Finding
) -> FindingSentence | None:
    """Explain an open finding by the present values; a finding about the order of actions keeps its first sentence.

    Returns:
        The sentence; None where nothing is wrong to speak of: the item or watch is met again, within its clear time, or
        what the item asks for is so, and only its time has to pass.

    Args:
        context: State and monitors of the judge.
        items: Items of the pack.
        key: Rule, gate and item of the finding.
        finding: The open finding.
    """
    if key.rule_kind is RuleKind.WATCH:
        if context.monitors.truth(expect_id(key.item)):
            return None
        reason = context.monitors.explain(expect_id(key.item))
        own = own_sentence(context.watches[key.item], reason.truth, context.state, reason.entry_error)
        return FindingSentence(own or reason.sentence, bool(own))
    state = items.states.get(key.item)
    if key.rule_kind is not RuleKind.NEED or state is None:
        return FindingSentence(finding.crew_sentence, bool(finding.own_sentence))
    if state.truth is True and not finding.is_doubt:
        return None
    reason = items.reason(state)
    # What was seen is still the evidence, while missing data leave it open whether it was corrected; and what could not be
    # verified at the entry of a gate stays so, whatever is seen afterwards.
    is_doubt = finding.is_doubt
    if state.truth is not None if is_doubt else reason.data_missing:
        return FindingSentence(finding.crew_sentence, bool(finding.own_sentence))
    if reason.soon_true:
        return None
    own = own_sentence(state.item, reason.truth, context.state, reason.entry_error)
    return FindingSentence(own or reason.sentence, bool(own))
