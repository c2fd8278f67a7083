"""Tests of bridge.outputs.voice.utterance_data: utterances as data for a page."""

from __future__ import annotations

import json

from bridge.outputs.voice.speech_queue import SpeechPriority, SpeechQueue, Utterance
from bridge.outputs.voice.utterance_data import queue_data, utterance_data


def test_an_utterance_as_data() -> None:
    """The data has the text to show, the text to speak, the interrupted priorities and the time to expiry."""
    data = utterance_data(Utterance("k", SpeechPriority.CALLOUT, "80 knots", 3.0), 2.5)
    assert json.loads(json.dumps(data)) == {
        "key": "k",
        "priority": "callout",
        "rank": 1,
        "text": "80 knots",
        "speech": "eight zero knots",
        "interrupts": ["challenge", "information"],
        "expires_in_s": 2.5,
    }


def test_a_queue_as_data_is_in_order() -> None:
    """The present utterance is first, then those that wait by priority, each with its time to expiry."""
    queue = SpeechQueue()
    queue.put(Utterance("a", SpeechPriority.ADVISORY, "a", 20.0), 0.0)
    queue.next(1.0)
    queue.put(Utterance("i", SpeechPriority.INFORMATION, "i", 15.0), 2.0)
    queue.put(Utterance("w", SpeechPriority.WARNING, "w", 30.0), 2.0)
    data = queue_data(queue, 4.0)
    assert [(one["key"], one["expires_in_s"]) for one in data] == [("a", 16.0), ("w", 28.0), ("i", 13.0)]
    assert data[1]["interrupts"] == ["callout", "caution", "advisory", "challenge", "information"]
    assert queue_data(SpeechQueue(), 0.0) == []
