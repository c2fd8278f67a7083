"""Tests of bridge.page.widgets.voice.speech_source: what a page says aloud, once for each client, gathered, held back and silenced."""

from __future__ import annotations

import gc
from collections.abc import Callable
from typing import Any

import pytest

from bridge.page.widgets.voice.speech_source import MAX_ACTIONS, SpeechFeed, SpeechSource
from rules.judge.events import Callout, Notice
from rules.packs.model import Level
from tests.bridge.page.page_builders import FlownDevice


class PlayedSpeech:
    """One client's ear."""

    def __init__(self, sayer: SpeechSource) -> None:
        """From now on."""
        self.ear: SpeechFeed = sayer.open_feed()

    def __call__(self) -> list[dict[str, Any]]:
        """What is new."""
        events = list(self.ear())
        assert {name for name, _ in events} <= {"say"}
        return [dict(data) for _, data in events if isinstance(data, dict)]


@pytest.fixture
def rung() -> list[bool]:
    """One entry for each time the clients were woken."""
    return []


@pytest.fixture
def sayer(flown: FlownDevice, rung: list[bool]) -> SpeechSource:
    """The voice of a rig."""
    return SpeechSource(flown.device, lambda: rung.append(True))


@pytest.fixture
def heard(sayer: SpeechSource) -> Callable[[], list[dict[str, Any]]]:
    """A client that listens."""
    return PlayedSpeech(sayer)


def notice(sentence: str, level: Level = Level.CAUTION, finding: int = 0, gate: str = "") -> Notice:
    """What is told to the crew."""
    return Notice(1.0, level, "captain", "flow.before.beacon", gate, sentence, 0, finding)


def test_a_notice_is_said_once_with_its_manners(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]], rung: list[bool]
) -> None:
    """The client is woken, and gets words to show and to speak, the priority, what it cuts off, and for how long."""
    flown.device.session.publish([notice("Hydraulic 1 pressure 1 240 psi.", Level.WARNING)])
    assert rung == [True]
    (said,) = heard()
    assert (said["do"], said["priority"], said["text"]) == (
        "say",
        "warning",
        "Hydraulic 1 pressure 1 240 psi.",
    )
    assert "one two four zero p s i" in said["spoken"]
    assert "caution" in said["interrupts"]
    assert said["expires_in_s"] == pytest.approx(30.0)
    assert heard() == []


def test_each_client_hears_from_when_it_came(flown: FlownDevice, sayer: SpeechSource) -> None:
    """Two clients hear the same, each once; one that comes later hears nothing of before."""
    first, second = PlayedSpeech(sayer), PlayedSpeech(sayer)
    flown.device.session.publish([notice("One.")])
    assert [one["text"] for one in first()] == ["One."]
    late = PlayedSpeech(sayer)
    assert late() == []
    flown.device.session.publish([notice("Two.", finding=2)])
    assert [one["text"] for one in second()] == ["One.", "Two."]
    assert [one["text"] for one in late()] == ["Two."]


def test_what_comes_in_one_step_for_one_gate_is_one_utterance(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]]
) -> None:
    """Several open items of a gate are said in one breath; what comes after it was sent is another one."""
    told = [
        notice(f"Before push back: {what}.", finding=at, gate="push")
        for at, what in enumerate(("a is off", "b is off"), 1)
    ]
    flown.device.session.publish(told)
    (said,) = heard()
    assert said["text"] == "Before push back, two open: a is off; b is off."
    flown.device.session.publish([notice("Before push back: c is off.", finding=3, gate="push")])
    (after,) = heard()
    assert after["key"] != said["key"]
    assert "c is off" in after["text"]
    assert "a is off" not in after["text"]


def test_what_is_mended_before_it_was_sent_is_not_said(flown: FlownDevice, sayer: SpeechSource) -> None:
    """A real flight: the beacon is off at the cue, told, and put on before the client asks."""
    ear = PlayedSpeech(sayer)
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.frame(1.0, {"lights.beacon": "off"}, push_approved=1.0)
    flown.frame(3.0, {"lights.beacon": "off"})
    flown.frame(4.0)
    flown.frame(6.0)
    assert not [one for one in ear() if "beacon" in one.get("text", "")]


def test_what_is_mended_after_it_was_sent_is_taken_back(flown: FlownDevice, sayer: SpeechSource) -> None:
    """The client is told to say something else, or nothing, under the same key."""
    ear = PlayedSpeech(sayer)
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.frame(1.0, {"lights.beacon": "off"}, push_approved=1.0)
    flown.frame(3.0, {"lights.beacon": "off"})
    said = next(one for one in ear() if "eacon" in one.get("text", ""))
    flown.frame(4.0)
    flown.frame(6.0)
    after = next(one for one in ear() if one.get("key") == said["key"])
    assert after["do"] in ("revise", "withdraw")
    assert "eacon" not in after.get("text", "")


def test_an_utterance_grows_old_while_it_waits_for_a_client(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]]
) -> None:
    """A client that asks late is told how little of its time is left."""
    flown.device.session.publish([Callout(1.0, "eighty", "eighty knots")])
    flown.clock.now_s += 2.0
    (said,) = heard()
    assert (said["priority"], said["expires_in_s"]) == ("callout", pytest.approx(1.0))
    flown.device.session.publish([Callout(2.0, "v1", "vee one")])
    flown.clock.now_s += 60.0
    (said,) = heard()
    assert said["expires_in_s"] == 0.0


def test_the_line_of_a_reading_is_said_when_it_is_come_to(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]]
) -> None:
    """Each challenge once, as the reading goes on; none for a client that comes in the middle of a line."""
    flown.frame(0.0)
    assert flown.ask("start_checklist", "before").accepted
    assert [one["text"] for one in heard()] == ["Beacon"]
    assert heard() == []
    flown.pass_time(3.0)
    flown.frame(3.0)
    flown.pass_time(0.1)
    assert [(one["text"], one["priority"]) for one in heard()] == [("Documents", "challenge")]


def test_a_quiet_period_is_told_when_it_begins_and_ends(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is held is named once; warnings are never among it, what is merely read is."""
    levels: tuple[Level, ...] = (Level.ADVISORY, Level.CAUTION)
    monkeypatch.setattr(type(flown.device.session.judge), "quiet_levels", property(lambda _: levels))
    (said,) = heard()
    assert said["do"] == "hold"
    assert set(said["priorities"]) == {"caution", "advisory", "challenge", "information"}
    assert heard() == []
    levels = ()
    assert heard() == [{"do": "hold", "priorities": ()}]


def test_a_silenced_session_is_silent_on_every_screen(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]]
) -> None:
    """Clients are told, get nothing meanwhile, and nothing of it afterwards."""
    assert flown.ask("mute", by="instructor").accepted
    assert heard() == [{"do": "silence", "on": True}]
    flown.device.session.publish([notice("One.")])
    assert heard() == []
    assert flown.ask("unmute", by="instructor").accepted
    assert heard() == [{"do": "silence", "on": False}]
    flown.device.session.publish([notice("Two.", finding=2)])
    assert [one["text"] for one in heard()] == ["Two."]


def test_while_nobody_listens_nothing_is_kept(
    flown: FlownDevice, sayer: SpeechSource, rung: list[bool]
) -> None:
    """Without a client, and after the last one went, entries cost nothing."""
    flown.device.session.publish([notice("One.")])
    ear = PlayedSpeech(sayer)
    assert ear() == []
    del ear
    gc.collect()
    flown.device.session.publish([notice("Two.", finding=2)])
    assert rung == []
    assert not sayer._pending


def test_a_client_that_sleeps_holds_no_more_than_a_bound(flown: FlownDevice, sayer: SpeechSource) -> None:
    """However much is told while a client is away, so much is kept for it and no more."""
    sleeper, awake = PlayedSpeech(sayer), PlayedSpeech(sayer)
    for number in range(5 * MAX_ACTIONS):
        flown.device.session.publish([notice(f"Number {number}.", finding=number + 1)])
        assert len(awake()) == 1
    said = sleeper()
    assert len(said) == MAX_ACTIONS
    assert said[-1]["text"] == f"Number {5 * MAX_ACTIONS - 1}."


def test_the_next_session_is_heard_as_well(
    flown: FlownDevice, heard: Callable[[], list[dict[str, Any]]]
) -> None:
    """A client goes on listening when another session begins on the device."""
    flown.device.start_session("Next")
    flown.device.session.publish([notice("One.")])
    assert [one["text"] for one in heard()] == ["One."]
