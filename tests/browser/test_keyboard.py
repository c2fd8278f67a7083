"""Tests of the keyboard: Tab reaches every control, and the focus is always visible."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.paused_flight import PausedPage
from tests.browser.screenshots import every_view, open_page
from tests.browser.watch_process import AeroplaneSender, WatchProcess

pytestmark = pytest.mark.browser

SIZES = {"phone": (360, 740), "desktop": (1440, 900)}
MAX_STOPS = 400
BROWSER_STOP = "the browser"
"""After the last control of a page the focus goes to the browser itself."""
MISSED = """() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex="0"]')]
  .filter(one => one.checkVisibility() && !one.disabled && one.type !== 'radio' && !globalThis.visited.has(one))
  .map(one => one.outerHTML.slice(0, 120))"""
FOCUS = """() => {
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
def test_tab_reaches_every_control_and_the_focus_is_visible(
    browser: Browser, paused: PausedPage, size: str
) -> None:
    """On every view each control gets the focus, shows a ring, and is not hidden by a sticky bar."""
    missed, unseen, without_ring = {}, {}, {}
    with open_page(browser, SIZES[size], "dark") as page:
        for name in every_view(page, paused):
            page.evaluate("document.activeElement.blur()")
            stops = list(tab_stops(page))
            missed[name] = page.evaluate(MISSED)
            unseen[name] = [stop["name"] for stop in stops if not stop["seen"]]
            without_ring[name] = [stop["name"] for stop in stops if not stop["ringed"]]
    assert not any(missed.values()), missed
    assert not any(unseen.values()), unseen
    assert not any(without_ring.values()), without_ring


def tab_stops(page: Page) -> Iterator[dict[str, object]]:
    """Press Tab until a control gets the focus for the second time; yield each stop."""
    for _ in range(MAX_STOPS):
        page.keyboard.press("Tab")
        stop = page.evaluate(FOCUS)
        if stop is None:
            return
        if stop["name"] != BROWSER_STOP:
            yield stop
    raise AssertionError("Tab never returns to the first control")


def test_a_call_is_entered_and_undone_with_the_keyboard(
    page: Page, flight: tuple[WatchProcess, AeroplaneSender]
) -> None:
    """The focus stays during updates, and is on Undo after the call."""
    watch, aeroplane = flight
    page.goto(f"{watch.view('calls')}#key={watch.key}")
    expect(page.locator(".head .link")).to_have_attribute("data-state", "receiving")
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


def test_a_dialog_returns_the_focus(page: Page, paused: PausedPage) -> None:
    """The key dialog focuses its field, Escape closes it, and the focus returns to the button."""
    page.goto(paused.view("calls"))
    button = page.locator("#calls-enter-ground_clear_start")
    button.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#key")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#ask-key")).to_be_hidden()
    expect(button).to_be_focused()
