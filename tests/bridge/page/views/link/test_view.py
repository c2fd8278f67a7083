"""Tests of bridge.page.views.link.view: states with their remedies, clocks, counters, and refused packets."""

from __future__ import annotations

import pytest

from adapters.decoders.base import Reject
from adapters.link_report import LinkState
from adapters.links.memory import MemoryLink
from bridge.page.views.link.view import NOT_ALL_USED, REMEDIES, link_counters
from tests.bridge.builders import feed
from tests.bridge.page.page_builders import HOSTILE, FlownDevice


@pytest.fixture
def opened(flown: FlownDevice) -> FlownDevice:
    """A device whose link is open, in memory."""
    flown.device.source.link = MemoryLink(clock=flown.clock)
    return flown


def test_every_state_has_a_remedy() -> None:
    """Every state has a word of its own and a remedy."""
    assert set(REMEDIES) == set(LinkState)
    assert len({word for word, _ in REMEDIES.values()}) == len(LinkState)
    assert all(len(remedy) > 10 for _, remedy in REMEDIES.values())


def shown_state(flown: FlownDevice) -> str:
    """Return the state that the panel shows, which is also in its heading."""
    seen = flown.shown("link")
    (word,) = seen.attribute("data-state")
    assert f"{REMEDIES[LinkState(word)][0].capitalize()}" in seen.words
    assert REMEDIES[LinkState(word)][1] in seen.words
    return word


def test_the_states_of_a_link(opened: FlownDevice) -> None:
    """Waiting, receiving, unreadable, silent and broken differ, each with its remedy."""
    assert shown_state(opened) == "waiting"
    opened.frame(0.0)
    assert shown_state(opened) == "receiving"
    opened.pass_time(3.0)
    feed(opened.device, b"\x00nonsense", opened.clock())
    assert shown_state(opened) == "unreadable"
    opened.pass_time(3.0)
    assert shown_state(opened) == "silent"
    opened.device.source.failure = "port 5139 is in use"
    assert shown_state(opened) == "broken"


@pytest.mark.parametrize("problem", ["rejects", "dropped", "lost"])
def test_not_everything_works_while_data_is_not_used(opened: FlownDevice, problem: str) -> None:
    """Where records were refused, dropped or lost, the link does not say that everything works."""
    opened.frame(0.0)
    assert REMEDIES[LinkState.RECEIVING][1] in opened.shown("link").words
    health = opened.device.source.health
    if problem == "rejects":
        feed(opened.device, b"\x00nonsense", opened.clock())
    elif problem == "lost":
        health.sequence.lost = 1
    else:
        health.dropped = 1
    words = opened.shown("link").words
    assert NOT_ALL_USED in words
    assert REMEDIES[LinkState.RECEIVING][1] not in words


def test_the_head_stays_brief_while_data_arrive(opened: FlownDevice) -> None:
    """Counters and remarks are on the view Link alone; what stops the data is in the head too."""
    opened.frame(0.0)
    feed(opened.device, b"\x00nonsense", opened.clock())
    assert "Link: Receiving Session" in opened.shown("head").words
    assert "receiving; 1 refused" in opened.shown("link").words
    opened.pass_time(3.0)
    assert "Link: No data for 3 s Session" in opened.shown("head").words


def test_a_link_that_is_not_open_yet_is_opening(flown: FlownDevice) -> None:
    """A link before its first opening differs from one that waits for data."""
    assert shown_state(flown) == "opening"


def test_the_duration_of_a_state(opened: FlownDevice) -> None:
    """The duration grows while the state stays the same, even without clients, and starts again with the next state."""
    opened.frame(0.0)
    opened.pass_time(0.0)
    for sim_s in range(1, 121):
        opened.pass_time(1.0)
        opened.frame(float(sim_s))
    assert "for 2 min" in opened.shown("link").words
    opened.pass_time(2.5)
    opened.pass_time(30.0)
    assert "for 30 s" in opened.shown("link").words


def test_clocks_show_never_and_then_ages(opened: FlownDevice) -> None:
    """Before any packet the clocks show "never"; then the last packet and the last valid one have their own ages."""
    words = opened.shown("link").words
    assert "Last packet never Last valid packet never" in words
    opened.frame(75.0)
    opened.pass_time(5.0)
    feed(opened.device, b"\x00", opened.clock())
    words = opened.shown("link").words
    assert "0:01:15" in words
    assert "Last packet just now" in words
    assert "Last valid packet 5 s ago" in words


def test_refused_packets_are_shown_as_text(opened: FlownDevice) -> None:
    """Each reason has its count, details and last bytes, all escaped."""
    health = opened.device.source.health
    health.count_reject(Reject("not a map", "a list", "b'\\x93'", "send a map"))
    health.count_reject(Reject("not a map", HOSTILE, HOSTILE, HOSTILE))
    health.count_reject(Reject("too short", "3 bytes"))
    seen = opened.shown("link")
    assert "not a map, 2 times" in seen.words
    assert "too short, 1 time: 3 bytes" in seen.words
    assert {"script", "img"}.isdisjoint(tag for tag, _ in seen.tags)
    assert seen.words.index("not a map") < seen.words.index("too short")


def test_problem_counters_are_marked_only_above_zero(opened: FlownDevice) -> None:
    """A counter that should be 0 is marked by a word if it is not."""
    opened.frame(0.0)
    assert "problem" not in opened.shown("link").html
    feed(opened.device, b"\x00", opened.clock())
    seen = opened.shown("link")
    assert seen.html.count('class="problem"') == 1
    by_title = {count.title: count.value for count in link_counters(opened.device.source.health)}
    assert (by_title["Datagrams"], by_title["Frames"], by_title["Refused"]) == (2, 1, 1)


def test_unknown_names_are_listed(opened: FlownDevice) -> None:
    """Fields that are mapped to no signal are listed by name, escaped."""
    opened.frame(0.0, {"no.such.signal": 1.0, "<b>bold</b>": 2.0})
    seen = opened.shown("link")
    assert "no.such.signal" in seen.words
    assert "<b>bold</b>" in seen.words
    assert "b" not in [tag for tag, _ in seen.tags]
