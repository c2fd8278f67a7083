"""Tests of bridge.page.panel_cache: panels are rendered once for all clients, and only while they are shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack

import pytest

from bridge.page.panel_cache import (
    FAILED_PANEL,
    MAX_TIME_SHARE,
    REFRESH_INTERVAL_S,
    PanelCache,
    refresh_periodically,
)
from tests.contract.waiting import ManualClock


class Panels:
    """Panels whose text is set by the test, with a count of their renderings."""

    def __init__(self, *names: str) -> None:
        """Start with the name of each panel as its text."""
        self.texts = {name: name for name in names}
        self.rendered: Counter[str] = Counter()
        self.cache = PanelCache({name: self._renderer(name) for name in names})

    def _renderer(self, name: str) -> Callable[[], str]:
        def render() -> str:
            self.rendered[name] += 1
            return self.texts[name]

        return render


def test_a_panel_is_rendered_at_its_first_use() -> None:
    """A panel that was never requested is not rendered; the next client gets the cached text."""
    panels = Panels("head", "ahead")
    assert panels.cache.panel("head") == ("head", 1)
    assert panels.cache.panel("head") == ("head", 1)
    assert panels.rendered == {"head": 1}


def test_panels_without_clients_are_not_refreshed() -> None:
    """A refresh renders each shown panel once for all clients, and none after the clients have left."""
    panels = Panels("head", "ahead")
    panels.cache.refresh()
    assert not panels.rendered
    with panels.cache.subscribe(["head"]), panels.cache.subscribe(["head"]):
        assert panels.cache.client_count == 2
        panels.cache.refresh()
        assert panels.rendered == {"head": 2}  # at the subscription and at the refresh
    panels.cache.refresh()
    assert panels.rendered == {"head": 2}
    assert panels.cache.client_count == 0


def test_a_slow_client_gets_only_the_newest_text() -> None:
    """A client that did not read for a while gets each panel once, with its newest text."""
    panels = Panels("head", "ahead")
    with panels.cache.subscribe(["head", "ahead"]) as slow, panels.cache.subscribe(["head"]) as quick:
        assert slow.updates() == [("head", "head"), ("ahead", "ahead")]
        seen = []
        for number in range(100):
            panels.texts["head"] = f"head {number}"
            panels.cache.refresh()
            seen += quick.updates()
        assert len(seen) == 100
        assert slow.updates() == [("head", "head 99")]
        assert slow.updates() == []


def test_only_a_change_wakes_clients() -> None:
    """An unchanged panel wakes no client, except those that are woken at every refresh."""
    panels = Panels("head")
    with panels.cache.subscribe(["head"]) as usual, panels.cache.subscribe([], wake_always=True) as always:
        usual.updates()
        always.updates()
        panels.cache.refresh()
        assert (usual.wakeup.is_set(), always.wakeup.is_set()) == (False, True)
        panels.texts["head"] = "other"
        panels.cache.refresh()
        assert usual.wakeup.is_set()


def test_a_failing_panel_says_so_and_since_when() -> None:
    """Its last text would look like the present: it says that it failed, and the other panels are rendered."""

    def broken() -> str:
        if not texts:
            raise ValueError("no more")
        return texts.pop()

    texts = ["the last text"]
    panels, wall = Panels("head"), ManualClock(1_764_000_000.0)
    cache = PanelCache({"broken": broken, "head": lambda: panels.texts["head"]}, wall)
    with cache.subscribe(["broken", "head"]) as client:
        client.updates()
        panels.texts["head"] = "new"
        cache.refresh()
        wall.now_s += 60.0
        cache.refresh()
        failed = FAILED_PANEL.format(since="16:00:00")
        assert client.updates() == [("broken", failed), ("head", "new")]
        texts.append("it works again")
        cache.refresh()
        assert client.updates() == [("broken", "it works again")]
        wall.now_s += 60.0
        cache.refresh()
        assert "16:02:00" in cache.panel("broken")[0]


def test_a_panel_that_always_fails_shows_a_message() -> None:
    """If there is no last text, the panel shows a message."""

    def broken() -> str:
        raise ValueError("never")

    assert "This panel has failed since" in PanelCache({"broken": broken}).panel("broken")[0]


@pytest.mark.parametrize("count", [1, 20])
def test_a_cache_keeps_nothing_of_closed_clients(count: int) -> None:
    """After all clients have left, no client and no subscription remains."""
    panels = Panels("head")
    for _ in range(count):
        with panels.cache.subscribe(["head"]) as client:
            client.updates()
    assert panels.cache.client_count == 0
    assert not panels.cache._subscriptions


def test_a_fetched_panel_is_rendered_anew_and_wakes_the_clients_that_show_it() -> None:
    """The last text may be of any age; clients that show the panel get the new one too, at once."""
    panels = Panels("head")
    assert panels.cache.render_now("head") == "head"
    panels.texts["head"] = "later"
    assert panels.cache.render_now("head") == "later"
    with panels.cache.subscribe(["head"]) as shown:
        assert shown.updates() == [("head", "later")]
        panels.texts["head"] = "latest"
        assert panels.cache.render_now("head") == "latest"
        assert shown.wakeup.is_set()
        panels.cache.refresh()
        assert shown.updates() == [("head", "latest")]


@pytest.mark.parametrize(
    ("cost_s", "wait_s"), [(0.001, REFRESH_INTERVAL_S), (0.5, 20 * 0.5 / MAX_TIME_SHARE)]
)
async def test_all_caches_together_take_no_more_than_their_share(cost_s: float, wait_s: float) -> None:
    """Twenty devices refresh less often where one refresh of all of them takes long, and others run between two of them."""
    clock, waits = ManualClock(), list[float]()

    def render() -> str:
        clock.now_s += cost_s
        return str(clock.now_s)

    async def wait(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) > 1 + 20 + 1:
            raise EndOfTestError

    caches = [PanelCache({"head": render}) for _ in range(20)]
    with ExitStack() as clients:
        for cache in caches:
            clients.enter_context(cache.subscribe(["head"]))
        with pytest.raises(EndOfTestError):
            await refresh_periodically(caches, wait=wait, clock=clock)
    assert waits[:22] == [REFRESH_INTERVAL_S, *[0.0] * 20, pytest.approx(wait_s)]


class EndOfTestError(Exception):
    """Ends the refreshing."""
