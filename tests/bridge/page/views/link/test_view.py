"""Tests of bridge.page.views.link.view: each standing with its word and remedy, counters, and what was refused."""

from __future__ import annotations

import pytest

from adapters.decoders.base import Reject
from adapters.links.memory import MemoryLink
from bridge.page.views.link.view import REMEDIES, link_counters
from bridge.runtime.link_state import LinkState
from tests.bridge.page.page_builders import HOSTILE, FlownDevice


@pytest.fixture
def opened(flown: FlownDevice) -> FlownDevice:
    """A rig whose link is open, in memory."""
    flown.device.runner.supervised_link.link = MemoryLink(clock=flown.clock)
    return flown


def test_every_standing_says_what_to_do() -> None:
    """No standing is without a word of its own and a remedy."""
    assert set(REMEDIES) == set(LinkState)
    assert len({word for word, _ in REMEDIES.values()}) == len(LinkState)
    assert all(len(remedy) > 10 for _, remedy in REMEDIES.values())


def standing(flown: FlownDevice) -> str:
    """The standing that the panel shows, which is that of its heading."""
    seen = flown.shown("link")
    (word,) = seen.attribute("data-standing")
    assert f"{REMEDIES[LinkState(word)][0].capitalize()}" in seen.words
    assert REMEDIES[LinkState(word)][1] in seen.words
    return word


def test_the_standings_of_a_link(opened: FlownDevice) -> None:
    """Waiting, receiving, unreadable, silent and broken are told apart, each with its remedy."""
    assert standing(opened) == "waiting"
    opened.frame(0.0)
    assert standing(opened) == "receiving"
    opened.pass_time(3.0)
    opened.device.session.receive(b"\x00nonsense", opened.clock())
    assert standing(opened) == "unreadable"
    opened.pass_time(3.0)
    assert standing(opened) == "silent"
    opened.device.runner.supervised_link.failure = "port 5139 is in use"
    assert standing(opened) == "broken"


def test_a_link_that_is_not_open_yet_is_opening(flown: FlownDevice) -> None:
    """Before the first opening the word is another one than for a link that waits."""
    assert standing(flown) == "opening"


def test_since_when_it_stands_so(opened: FlownDevice) -> None:
    """The time since the standing changed goes on while it stays, though nobody looked, and begins anew with the next."""
    opened.frame(0.0)
    opened.pass_time(0.0)
    for sim_s in range(1, 121):
        opened.pass_time(1.0)
        opened.frame(float(sim_s))
    assert "so for 2 min" in opened.shown("link").words
    opened.pass_time(2.5)
    opened.pass_time(30.0)
    assert "so for 30 s" in opened.shown("link").words


def test_clocks_say_never_and_then_how_long_ago(opened: FlownDevice) -> None:
    """Nothing received is "never"; then the age of the last datagram and of the last one that could be read differ."""
    words = opened.shown("link").words
    assert "Last datagram never Last one that could be read never" in words
    opened.frame(75.0)
    opened.pass_time(5.0)
    opened.device.session.receive(b"\x00", opened.clock())
    words = opened.shown("link").words
    assert "0:01:15" in words
    assert "Last datagram just now" in words
    assert "Last one that could be read 5 s ago" in words


def test_what_was_refused_stands_there_in_printable_form(opened: FlownDevice) -> None:
    """Each reason with its number, its particulars, and the last bytes; nothing of them becomes part of the page."""
    health = opened.device.session.receiver.health
    health.count_reject(Reject("not a map", "a list", "b'\\x93'", "send a map"))
    health.count_reject(Reject("not a map", HOSTILE, HOSTILE, HOSTILE))
    health.count_reject(Reject("too short", "3 bytes"))
    seen = opened.shown("link")
    assert "not a map, 2 times" in seen.words
    assert "too short, 1 time: 3 bytes" in seen.words
    assert {"script", "img"}.isdisjoint(tag for tag, _ in seen.tags)
    assert seen.words.index("not a map") < seen.words.index("too short")


def test_counters_of_trouble_are_marked_only_where_there_is_any(opened: FlownDevice) -> None:
    """A counter that should be 0 and is not is marked by a word as well; one that is 0 is not."""
    opened.frame(0.0)
    assert "trouble" not in opened.shown("link").html
    opened.device.session.receive(b"\x00", opened.clock())
    seen = opened.shown("link")
    assert seen.html.count('class="trouble"') == 1
    by_title = {count.title: count.value for count in link_counters(opened.device.session.receiver.health)}
    assert (by_title["Datagrams"], by_title["Frames"], by_title["Refused"]) == (2, 1, 1)


def test_names_that_fit_nothing_are_told(opened: FlownDevice) -> None:
    """Fields that no signal takes stand there by name, escaped."""
    opened.frame(0.0, {"no.such.signal": 1.0, "<b>bold</b>": 2.0})
    seen = opened.shown("link")
    assert "no.such.signal" in seen.words
    assert "<b>bold</b>" in seen.words
    assert "b" not in [tag for tag, _ in seen.tags]
