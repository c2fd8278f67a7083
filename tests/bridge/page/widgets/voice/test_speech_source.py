"""Tests of bridge.page.widgets.voice.speech_source: utterances for each client, grouped, held back and muted."""

from __future__ import annotations

import gc
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from bridge.page.widgets.voice.speech_source import MAX_ACTIONS, SpeechFeed, SpeechSource
from rules.judge.events import Callout, LeadIn, Notice
from rules.packs.model import Level
from tests.bridge.page.page_builders import FlownDevice


class SpeechClient:
    """One client that reads its feed."""

    def __init__(self, source: SpeechSource) -> None:
        self.feed: SpeechFeed = source.open_feed()

    def __call__(self) -> list[dict[str, Any]]:
        """Return the data of the new events."""
        events = list(self.feed())
        assert {name for name, _ in events} <= {"speech"}
        return [dict(data) for _, data in events if isinstance(data, dict)]


@pytest.fixture
def wakeups() -> list[bool]:
    """One entry for each time the clients were woken."""
    return []


@pytest.fixture
def source(flown: FlownDevice, wakeups: list[bool]) -> SpeechSource:
    """The utterances of a device."""
    return SpeechSource(flown.device, lambda: wakeups.append(True))


@pytest.fixture
def client(source: SpeechSource) -> Callable[[], list[dict[str, Any]]]:
    """A client of the source."""
    return SpeechClient(source)


def notice(sentence: str, level: Level = Level.CAUTION, finding: int = 0) -> Notice:
    """Build a notice of a watch."""
    reasons = (sentence.rstrip("."),)
    return Notice(1.0, level, "captain", "watch.x", "", sentence, 0, finding, reasons=reasons)


def notice_at_gate(what: str, finding: int) -> Notice:
    """Build a notice before the push back."""
    text = f"Before push back: {what}."
    item, lead_in = "flow.before.beacon", LeadIn.BEFORE_GATE
    return Notice(1.0, Level.CAUTION, "captain", item, "push", text, 0, finding, lead_in, (what,))


def test_a_notice_is_spoken_once(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]], wakeups: list[bool]
) -> None:
    """The client is woken, and gets text, spoken text, priority, interrupted priorities and time to live."""
    flown.device.session.publish([notice("Hydraulic 1 pressure 1 240 psi.", Level.WARNING)])
    assert wakeups == [True]
    (utterance,) = client()
    assert (utterance["do"], utterance["priority"], utterance["text"]) == (
        "speak",
        "warning",
        "Hydraulic 1 pressure 1 240 psi.",
    )
    assert "one two four zero p s i" in utterance["speech"]
    assert "caution" in utterance["interrupts"]
    assert utterance["expires_in_s"] == pytest.approx(30.0)
    assert client() == []


def test_each_client_gets_utterances_from_the_opening_of_its_feed(
    flown: FlownDevice, source: SpeechSource
) -> None:
    """Two clients get the same utterances, each once; a later client gets nothing from before."""
    first, second = SpeechClient(source), SpeechClient(source)
    flown.device.session.publish([notice("One.")])
    assert [one["text"] for one in first()] == ["One."]
    late = SpeechClient(source)
    assert late() == []
    flown.device.session.publish([notice("Two.", finding=2)])
    assert [one["text"] for one in second()] == ["One.", "Two."]
    assert [one["text"] for one in late()] == ["Two."]


def test_notices_of_one_gate_in_one_step_are_one_utterance(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]]
) -> None:
    """Several notices of a gate are one utterance; a notice after it was sent starts another."""
    notices = [notice_at_gate(what, at) for at, what in enumerate(("a is off", "b is off"), 1)]
    flown.device.session.publish(notices)
    (utterance,) = client()
    assert utterance["text"] == "Before push back, two open: a is off; b is off."
    flown.device.session.publish([notice_at_gate("c is off", 3)])
    (after,) = client()
    assert after["key"] != utterance["key"]
    assert "c is off" in after["text"]
    assert "a is off" not in after["text"]


def test_a_correction_before_sending_drops_the_utterance(flown: FlownDevice, source: SpeechSource) -> None:
    """In a flight, the beacon is off at the cue, reported, and switched on before the client reads."""
    client = SpeechClient(source)
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.frame(1.0, {"lights.beacon": "off"}, push_approved=1.0)
    flown.frame(3.0, {"lights.beacon": "off"})
    flown.frame(4.0)
    flown.frame(6.0)
    assert not [one for one in client() if "beacon" in one.get("text", "")]


def test_a_correction_after_sending_withdraws_the_utterance(flown: FlownDevice, source: SpeechSource) -> None:
    """The client gets an action with the same key that revises or withdraws the utterance."""
    client = SpeechClient(source)
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.frame(1.0, {"lights.beacon": "off"}, push_approved=1.0)
    flown.frame(3.0, {"lights.beacon": "off"})
    utterance = next(one for one in client() if "eacon" in one.get("text", ""))
    flown.frame(4.0)
    flown.frame(6.0)
    after = next(one for one in client() if one.get("key") == utterance["key"])
    assert after["do"] in ("revise", "withdraw")
    assert "eacon" not in after.get("text", "")


def test_an_utterance_ages_while_it_waits_for_a_client(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]]
) -> None:
    """A client that reads late gets the shorter time that is left."""
    flown.device.session.publish([Callout(1.0, "eighty", "eighty knots")])
    flown.clock.now_s += 2.0
    (utterance,) = client()
    assert (utterance["priority"], utterance["expires_in_s"]) == ("callout", pytest.approx(1.0))
    flown.device.session.publish([Callout(2.0, "v1", "vee one")])
    flown.clock.now_s += 60.0
    (utterance,) = client()
    assert utterance["expires_in_s"] == 0.0


def test_the_challenge_of_a_checklist_line_is_spoken(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]]
) -> None:
    """Each challenge is spoken once when its line becomes current."""
    flown.frame(0.0)
    assert flown.ask("start_checklist", "before").accepted
    assert [one["text"] for one in client()] == ["Beacon"]
    assert client() == []
    flown.pass_time(3.0)
    flown.frame(3.0)
    flown.pass_time(0.1)
    assert [(one["text"], one["priority"]) for one in client()] == [("Documents", "challenge")]


def test_a_quiet_period_is_sent_at_its_start_and_end(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The held priorities are sent once; they include challenges and information, never warnings."""
    levels: tuple[Level, ...] = (Level.ADVISORY, Level.CAUTION)
    snapshot = flown.device.session.current_snapshot()
    monkeypatch.setattr(
        flown.device.session, "current_snapshot", lambda: replace(snapshot, quiet_levels=levels)
    )
    (utterance,) = client()
    assert utterance["do"] == "hold"
    assert set(utterance["priorities"]) == {"caution", "advisory", "challenge", "information"}
    assert client() == []
    levels = ()
    assert client() == [{"do": "hold", "priorities": ()}]


def test_a_muted_session_is_muted_on_every_screen(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]]
) -> None:
    """Clients get the mute state and no utterances meanwhile, and those are not spoken afterwards."""
    assert flown.ask("mute", by="instructor").accepted
    assert client() == [{"do": "mute", "on": True}]
    flown.device.session.publish([notice("One.")])
    assert client() == []
    assert flown.ask("unmute", by="instructor").accepted
    assert client() == [{"do": "mute", "on": False}]
    flown.device.session.publish([notice("Two.", finding=2)])
    assert [one["text"] for one in client()] == ["Two."]


def test_without_clients_no_utterance_is_composed(
    flown: FlownDevice, source: SpeechSource, wakeups: list[bool]
) -> None:
    """Without clients, and after the last one has left, events are ignored."""
    flown.device.session.publish([notice("One.")])
    client = SpeechClient(source)
    assert client() == []
    del client
    gc.collect()
    flown.device.session.publish([notice("Two.", finding=2)])
    assert wakeups == []
    assert not source._pending


def test_a_sleeping_client_gets_a_bounded_number_of_actions(flown: FlownDevice, source: SpeechSource) -> None:
    """For a client that does not read, only the last actions are stored."""
    sleeper, awake = SpeechClient(source), SpeechClient(source)
    for number in range(5 * MAX_ACTIONS):
        flown.device.session.publish([notice(f"Number {number}.", finding=number + 1)])
        assert len(awake()) == 1
    utterance = sleeper()
    assert len(utterance) == MAX_ACTIONS
    assert utterance[-1]["text"] == f"Number {5 * MAX_ACTIONS - 1}."


def test_a_client_stays_connected_for_the_next_session(
    flown: FlownDevice, client: Callable[[], list[dict[str, Any]]]
) -> None:
    """A client gets the utterances of the next session of the device."""
    flown.device.start_session("Next")
    flown.device.session.publish([notice("One.")])
    assert [one["text"] for one in client()] == ["One."]
