"""Wording of findings and notices: one plain sentence each.

Takes: findings, reasons and titles.  Gives: text.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rules.judge.events import LEAD_IN_TEXTS, Finding, LeadIn, before_gate_text, phase_begun_text
from rules.language.explain.clauses import clause
from rules.language.truth import Reason
from rules.packs.condition_facts import call_titles
from rules.packs.model import FindingKind, Item
from rules.words import capitalised, uncapitalised, words_of_id

_LEAD_IN_OF_KIND = {
    FindingKind.UNDONE: LeadIn.UNDONE,
    FindingKind.TOO_EARLY: LeadIn.TOO_EARLY,
    FindingKind.OUT_OF_ORDER: LeadIn.OUT_OF_ORDER,
    FindingKind.LATE: LeadIn.LATE,
}


def actual_and_wanted(reason: Reason) -> tuple[str, str]:
    """Actual and wanted values of a reason, collected from its parts where it has no single pair."""
    if reason.actual or reason.wanted:
        return reason.actual, reason.wanted
    pairs = list(_pairs(reason))
    if not pairs:
        return reason.sentence, ""
    return "; ".join(a for a, _ in pairs if a), "; ".join(w for _, w in pairs if w)


def too_early_text(item: Item, reason: Reason) -> str:
    """Sentence on an action that came too early: before its calls, otherwise with the fact against it.

    Args:
        item: The item; it has an `after`.
        reason: Why that is not met.
    """
    action, calls = uncapitalised(item.label), call_titles(item.after)
    return f"{action} before {' and '.join(calls)}" if calls else f"{action} while {reason.sentence}"


def prerequisite_text(item: Item) -> str:
    """Prerequisite of an item as text for the record: its calls, otherwise the condition as a clause."""
    calls = call_titles(item.after)
    return " and ".join(calls) if calls or item.after is None else clause(item.after)


def lead_in_of(finding: Finding, gate: str) -> LeadIn:
    """Lead-in of a notice about a finding; a sentence of the pack's own says itself what is too early or late.

    Args:
        finding: The finding.
        gate: Gate before which the notice is given, '' for none; another one than the finding's found it still open.
    """
    if gate != finding.gate:
        return LeadIn.STILL_OPEN
    says_it_itself = bool(finding.own_sentence) and finding.kind is not FindingKind.UNDONE
    if finding.kind is FindingKind.UNDONE and not finding.gate:
        # A watch has not seen it otherwise before: it is wrong now, and its label says when.
        return LeadIn.NONE
    if finding.kind in _LEAD_IN_OF_KIND and not says_it_itself:
        return _LEAD_IN_OF_KIND[finding.kind]
    if not gate:
        return LeadIn.NONE
    if finding.is_doubt:
        return LeadIn.CANNOT_VERIFY
    return LeadIn.PHASE_BEGUN if finding.carried else LeadIn.BEFORE_GATE


def notice_text(lead_in: LeadIn, reasons: Sequence[str], gate: str = "", label: str = "") -> str:
    """Sentence of a notice.

    Args:
        lead_in: What it begins with.
        reasons: Why each finding is open; one, or several for a summary.
        gate: Title of the gate, '' where the lead-in names none.
        label: Label of the item that cannot be verified.
    """
    text = "; ".join(reasons)
    stop = "" if text.endswith("?") else "."
    match lead_in:
        case LeadIn.NONE:
            return f"{capitalised(text)}{stop}"
        case LeadIn.BEFORE_GATE:
            return f"{before_gate_text(gate)}: {text}{stop}"
        case LeadIn.STILL_OPEN:
            number = f"{len(reasons)} " if len(reasons) > 1 else ""
            return f"{before_gate_text(gate)}, {number}still open: {text}{stop}"
        case LeadIn.PHASE_BEGUN:
            return f"{phase_begun_text(gate)}: {text}{stop}"
        case LeadIn.CANNOT_VERIFY:
            return f"{before_gate_text(gate)}, cannot verify {uncapitalised(label)}: {text}{stop}"
        case LeadIn.SUMMARY:
            number = f"{len(reasons)} " if len(reasons) > 1 else ""
            return f"{capitalised(f'{number}still open')}: {text}{stop}"
    return f"{capitalised(LEAD_IN_TEXTS[lead_in])}: {text}{stop}"


def with_rule_name(finding: Finding, sentence: str) -> str:
    """Put the name of a watch before the sentence, where that says only a fact and does not begin with the name."""
    kinds = (FindingKind.LIMIT_EXCEEDED, FindingKind.AEROPLANE_EVENT, FindingKind.UNDONE)
    named = finding.kind not in kinds or sentence.lower().startswith(finding.label.lower())
    return sentence if named else f"{finding.label}: {sentence}"


def word_text(word: str) -> str:
    """Word of a choice as it is read; an empty text reads 'not set'."""
    return words_of_id(word) or "not set"


def _pairs(reason: Reason) -> Iterable[tuple[str, str]]:
    """Pairs of actual and wanted values of the parts, in the order of the sentence."""
    for part in reason.parts:
        if part.actual or part.wanted:
            yield part.actual, part.wanted
        else:
            yield from _pairs(part)
