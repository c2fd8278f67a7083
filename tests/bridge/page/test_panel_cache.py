"""Tests of bridge.page.panel_cache: panels are made once for all, and only while somebody looks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from bridge.page.panel_cache import PanelCache


class Panels:
    """Panels whose text is set by hand, with a count of how often each was made."""

    def __init__(self, *names: str) -> None:
        """Each says its name."""
        self.texts = {name: name for name in names}
        self.made: Counter[str] = Counter()
        self.board = PanelCache({name: self._maker(name) for name in names})

    def _maker(self, name: str) -> Callable[[], str]:
        def make() -> str:
            self.made[name] += 1
            return self.texts[name]

        return make


def test_a_panel_is_made_when_it_is_first_looked_at() -> None:
    """A panel that nobody asked for is not made; one that was made is not made again for the next."""
    panels = Panels("head", "ahead")
    assert panels.board.panel("head") == ("head", 1)
    assert panels.board.panel("head") == ("head", 1)
    assert panels.made == {"head": 1}


def test_what_nobody_looks_at_is_not_refreshed() -> None:
    """A refresh makes what is watched, once for all who watch, and nothing after they went."""
    panels = Panels("head", "ahead")
    panels.board.refresh()
    assert not panels.made
    with panels.board.subscribe(["head"]), panels.board.subscribe(["head"]):
        assert panels.board.client_count == 2
        panels.board.refresh()
        assert panels.made == {"head": 2}  # as it came, and at the refresh
    panels.board.refresh()
    assert panels.made == {"head": 2}
    assert panels.board.client_count == 0


def test_a_slow_watcher_gets_only_the_newest() -> None:
    """A client that did not ask for a while gets each panel once, as it is now; not what it was in between."""
    panels = Panels("head", "ahead")
    with panels.board.subscribe(["head", "ahead"]) as slow, panels.board.subscribe(["head"]) as quick:
        assert slow.updates() == [("head", "head"), ("ahead", "ahead")]
        seen = []
        for number in range(100):
            panels.texts["head"] = f"head {number}"
            panels.board.refresh()
            seen += quick.updates()
        assert len(seen) == 100
        assert slow.updates() == [("head", "head 99")]
        assert slow.updates() == []


def test_only_a_change_rings() -> None:
    """A panel that reads as before wakes nobody; a restless client is woken at every refresh."""
    panels = Panels("head")
    with panels.board.subscribe(["head"]) as calm, panels.board.subscribe([], wake_always=True) as restless:
        calm.updates()
        restless.updates()
        panels.board.refresh()
        assert (calm.wakeup.is_set(), restless.wakeup.is_set()) == (False, True)
        panels.texts["head"] = "other"
        panels.board.refresh()
        assert calm.wakeup.is_set()


def test_a_panel_that_fails_stays_as_it_was() -> None:
    """One panel that cannot be made keeps its last text, and the others are made."""

    def broken() -> str:
        if not texts:
            raise ValueError("no more")
        return texts.pop()

    texts = ["the last good one"]
    panels = Panels("head")
    board = PanelCache({"broken": broken, "head": lambda: panels.texts["head"]})
    with board.subscribe(["broken", "head"]) as watcher:
        watcher.updates()
        panels.texts["head"] = "new"
        board.refresh()
        assert watcher.updates() == [("head", "new")]
        assert board.panel("broken")[0] == "the last good one"


def test_a_panel_that_never_could_be_made_says_so() -> None:
    """Where there is no last text, a sentence stands in its place."""

    def broken() -> str:
        raise ValueError("never")

    assert "cannot be shown" in PanelCache({"broken": broken}).panel("broken")[0]


@pytest.mark.parametrize("many", [1, 20])
def test_a_board_keeps_nothing_of_those_who_went(many: int) -> None:
    """After clients came and went, none is known and nothing is wanted."""
    panels = Panels("head")
    for _ in range(many):
        with panels.board.subscribe(["head"]) as watcher:
            watcher.updates()
    assert panels.board.client_count == 0
    assert not panels.board._subscriptions
