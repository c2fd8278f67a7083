"""Tests of bridge.outputs.voice.utterance_data: utterances as data for a page."""

from __future__ import annotations

import json

from bridge.outputs.voice.speech_queue import SpeechPriority, Utterance
from bridge.outputs.voice.utterance_data import utterance_data


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
        "notices": 0,
    }
