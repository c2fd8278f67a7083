"""Without a finger or a mouse: Tab comes to everything that can be touched, and one always sees where one is."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.paused_flight import PausedPage
from tests.browser.screenshots import every_view, open_page
from tests.browser.watch_process import AeroplaneSender, WatchProcess

pytestmark = pytest.mark.browser

SIZES = {"phone": (360, 740), "desktop": (1440, 900)}
MOST_STOPS = 400
BROWSER = "the browser"
"""Behind the last stop of a page the browser's own ones come."""
MISSED = """() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex="0"]')]
  .filter(one => one.checkVisibility() && !one.disabled && one.type !== 'radio' && !globalThis.visited.has(one))
  .map(one => one.outerHTML.slice(0, 120))"""
AT = """() => {
  const one = document.activeElement;
  const visited = globalThis.visited ??= new Set();
  if (visited.has(one)) return null;
  visited.add(one);
  const box = one.getBoundingClientRect(), style = getComputedStyle(one);
  const seen = [[.5, .5], [.1, .2], [.9, .2], [.1, .8], [.9, .8]].some(([x, y]) => {
    const there = document.elementFromPoint(box.left + x * box.width, box.top + y * box.height);
    return there && (one.contains(there) || there.contains(one) && there.tagName === 'LABEL');
  });
  const name = one === document.body ? 'the browser' : one.id || one.textContent.trim();
  return { name, seen, ringed: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2 };
}"""


@pytest.mark.parametrize("size", SIZES)
def test_tab_comes_to_everything_and_what_has_the_focus_is_seen(
    browser: Browser, still: PausedPage, size: str
) -> None:
    """On every view each thing that can be touched gets the focus, has a ring then, and is not under a bar that sticks."""
    missed, unseen, without_ring = {}, {}, {}
    with open_page(browser, SIZES[size], "dark") as page:
        for name in every_view(page, still):
            page.evaluate("document.activeElement.blur()")
            stops = list(gone_through(page))
            missed[name] = page.evaluate(MISSED)
            unseen[name] = [stop["name"] for stop in stops if not stop["seen"]]
            without_ring[name] = [stop["name"] for stop in stops if not stop["ringed"]]
    assert not any(missed.values()), missed
    assert not any(unseen.values()), unseen
    assert not any(without_ring.values()), without_ring


def gone_through(page: Page) -> Iterator[dict[str, object]]:
    """Press Tab until it comes to something for the second time; gives each stop."""
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        stop = page.evaluate(AT)
        if stop is None:
            return
        if stop["name"] != BROWSER:
            yield stop
    raise AssertionError("there is no end of it")


def test_a_call_is_made_and_undone_with_the_keyboard_alone(
    page: Page, flight: tuple[WatchProcess, AeroplaneSender]
) -> None:
    """The focus stays while the page changes around it, and lies on the undo after the call."""
    watch, aeroplane = flight
    page.goto(f"{watch.view('calls')}#key={watch.key}")
    expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
    button = page.locator("#calls-enter-cabin_ready")
    button.focus()
    aeroplane.set({"lights.beacon": "off"})
    before = page.locator(".head .when").inner_text()
    expect(page.locator(".head .when")).not_to_have_text(before)
    expect(button).to_be_focused()
    page.keyboard.press("Enter")
    undo = page.locator("#calls-undo-cabin_ready")
    expect(undo).to_be_focused()
    page.wait_for_function("began => Date.now() - began > 450", arg=page.evaluate("Date.now()"))
    page.keyboard.press("Enter")
    expect(page.locator("#calls-enter-cabin_ready")).to_be_focused()


def test_a_dialog_gives_the_focus_back(page: Page, still: PausedPage) -> None:
    """The key's dialog has the focus in its field, Escape leaves it, and the button that opened it has the focus again."""
    page.goto(still.view("calls"))
    button = page.locator("#calls-enter-ground_clear_start")
    button.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#key")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#ask-key")).to_be_hidden()
    expect(button).to_be_focused()
