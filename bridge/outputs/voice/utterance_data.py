"""Converts utterances to plain data, so that a page can speak them by the same rules.

Takes: utterances.  Gives: dictionaries for JSON.
"""

from __future__ import annotations

from typing import Any

from bridge.outputs.voice.speech_queue import INTERRUPTS, SpeechPriority, Utterance
from bridge.outputs.voice.speech_text import speech_text


def utterance_data(utterance: Utterance, expires_in_s: float) -> dict[str, Any]:
    """Convert one utterance.

    Args:
        utterance: the utterance.
        expires_in_s: the time until it expires.

    Returns:
        `key`; `priority` as a word; `rank`, 0 before 1; `text` for the screen; `speech` for the engine; `interrupts`, the
        priorities that it interrupts; `expires_in_s`; `notices`, the number of notices that it stands for.
    """
    interrupted = INTERRUPTS.get(utterance.priority, frozenset[SpeechPriority]())
    return {
        "key": utterance.key,
        "priority": utterance.priority.label,
        "rank": int(utterance.priority),
        "text": utterance.text,
        "speech": speech_text(utterance.text),
        "interrupts": [priority.label for priority in SpeechPriority if priority in interrupted],
        "expires_in_s": round(expires_in_s, 3),
        "notices": utterance.notice_count,
    }
