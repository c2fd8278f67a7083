"""Utterances as plain data, so that a page can say them itself, in the same order and with the same manners.

Takes: utterances and the queue that they stand in.  Gives: dictionaries for JSON.
"""

from __future__ import annotations

from typing import Any

from bridge.outputs.voice.speech_queue import INTERRUPTS, SpeechPriority, SpeechQueue, Utterance
from bridge.outputs.voice.speech_text import speech_text


def utterance_data(utterance: Utterance, expires_in_s: float) -> dict[str, Any]:
    """One utterance.

    Args:
        utterance: what is to be said.
        expires_in_s: for how long it is still worth saying.

    Returns:
        `key`; `priority` as a word; `rank`, 0 before 1; `text` to show; `spoken` to hand to an engine; `interrupts`, the
        priorities that it cuts off; `expires_in_s`.
    """
    cuts = INTERRUPTS.get(utterance.priority, frozenset[SpeechPriority]())
    return {
        "key": utterance.key,
        "priority": utterance.priority.label,
        "rank": int(utterance.priority),
        "text": utterance.text,
        "spoken": speech_text(utterance.text),
        "interrupts": [priority.label for priority in SpeechPriority if priority in cuts],
        "expires_in_s": round(expires_in_s, 3),
    }


def queue_data(queue: SpeechQueue, now_s: float) -> list[dict[str, Any]]:
    """What is being said, then what waits, in the order in which it will be said.

    Args:
        queue: a speech queue.
        now_s: its clock.
    """
    present = [queue.current] if queue.current else []
    return [utterance_data(one, queue.expires_in_s(one, now_s)) for one in [*present, *queue.waiting]]
