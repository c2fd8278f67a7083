"""Wording of findings and notices: one plain sentence each.

Takes: findings, reasons and titles.  Gives: text.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rules.judge.events import Finding, before_gate_text, phase_begun_text
from rules.language.truth import Reason
from rules.packs.condition_facts import call_titles
from rules.packs.model import FindingKind, Item
from rules.words import capitalised, uncapitalised, words_of_id

_KIND_PREFIXES = {
    FindingKind.UNDONE: "Undone",
    FindingKind.TOO_EARLY: "Too early",
    FindingKind.OUT_OF_ORDER: "Out of order",
    FindingKind.LATE: "Late",
}


def actual_and_wanted(reason: Reason) -> tuple[str, str]:
    """Actual and wanted values of a reason, collected from its parts where it has no single pair."""
    if reason.actual or reason.wanted:
        return reason.actual, reason.wanted
    pairs = list(_pairs(reason))
    if not pairs:
        return reason.sentence, ""
    return "; ".join(a for a, _ in pairs if a), "; ".join(w for _, w in pairs if w)


def prerequisite_text(item: Item, reason: Reason) -> str:
    """Prerequisite of an item as text: its calls, otherwise the condition or why that is not met."""
    calls = call_titles(item.after)
    return " and ".join(calls) if calls else item.after_text or reason.sentence


def notice_text(finding: Finding, sentence: str, gate: str) -> str:
    """Sentence of a notice.

    Args:
        finding: The finding.
        sentence: Why it is open, by the present values.
        gate: Title of the finding's gate, '' where it has none.
    """
    prefix = _KIND_PREFIXES.get(finding.kind)
    if prefix is not None:
        return f"{prefix}: {sentence}."
    if not gate:
        return f"{capitalised(with_limit_name(finding, sentence))}."
    if finding.kind is FindingKind.NOT_VERIFIABLE:
        return f"{before_gate_text(gate)}, cannot verify {uncapitalised(finding.label)}: {sentence}."
    return f"{phase_begun_text(gate) if finding.carried else before_gate_text(gate)}: {sentence}."


def with_limit_name(finding: Finding, sentence: str) -> str:
    """Put the name of a limit before the sentence, unless that begins with it."""
    named = finding.kind is not FindingKind.LIMIT_EXCEEDED or sentence.lower().startswith(
        finding.label.lower()
    )
    return sentence if named else f"{finding.label}: {sentence}"


def still_open_text(sentence: str, gate: str) -> str:
    """Sentence for a later gate that finds an error of an earlier one still open."""
    return f"{before_gate_text(gate)}, still open: {sentence}."


def summary_text(sentences: Sequence[str]) -> str:
    """One sentence for all that a quiet period held back."""
    if len(sentences) == 1:
        return f"Still open: {sentences[0]}."
    return f"{len(sentences)} still open: {'; '.join(sentences)}."


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
