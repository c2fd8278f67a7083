"""Tests of accessibility: no violations of the rules, no horizontal scrolling, large enough targets.

The rules are those of axe-core, which checks the machine-testable part of WCAG 2.2 A and AA, among others.  The flight is
paused at two moments of the demonstration: before the push, with open items, an exceeded limit and a checklist half read;
and during an engine start.
"""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.paused_flight import PausedPage
from tests.browser.screenshots import every_view, open_page

pytestmark = pytest.mark.browser

SIZES = {"phone": (360, 740), "desktop": (1440, 900)}
WIDTHS, HEIGHT = (320, 360, 480, 700, 820, 1000, 1100, 1440, 1900, 2560), 800
MIN_TARGET_PX, MAIN_TARGET_PX = 24, 44
"""WCAG 2.2, 2.5.8 Target Size (Minimum), and 2.5.5 (Enhanced) for the controls used in flight."""
CONTROLS = "button:visible, .views a:visible, summary:visible, select:visible, input:visible"
MAIN_CONTROLS = ".go:visible, .enter:visible, .undo:visible, .views a:visible, .choice:visible, #session-now .row button:visible"
TARGET_SIZES = """all => all.map(one => {
  const box = (one.matches('input[type=checkbox], input[type=radio]') && one.closest('label') || one).getBoundingClientRect();
  return [one.id || one.textContent.trim(), Math.min(box.width, box.height), box.height];
})"""


def violations(page: Page) -> list[str]:
    """Return the violations that axe finds on the page, one line each."""
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


@pytest.fixture(params=["dark", "light"])
def scheme(request: pytest.FixtureRequest) -> str:
    """The colour scheme."""
    return str(request.param)


@pytest.mark.parametrize("size", SIZES)
def test_no_view_violates_a_rule(browser: Browser, paused: PausedPage, size: str, scheme: str) -> None:
    """No view and no page has a violation: names, roles, contrast, headings, target sizes."""
    found = {}
    with open_page(browser, SIZES[size], scheme) as page:
        for name in every_view(page, paused):
            if wrong := violations(page):
                found[name] = wrong
    assert found == {}


def test_the_rules_find_violations(browser: Browser, paused: PausedPage) -> None:
    """A field without a name and unreadable text are found, so the other tests can fail."""
    with open_page(browser, SIZES["phone"], "dark") as page:
        page.goto(paused.view("ahead"))
        page.evaluate("document.querySelector('main').append(document.createElement('input'))")
        page.evaluate("document.querySelector('footer').style.color = '#222'")
        assert {one.partition(":")[0] for one in violations(page)} >= {"label", "color-contrast"}


def test_dialogs_and_messages_violate_no_rule(browser: Browser, paused: PausedPage, scheme: str) -> None:
    """The voice dialog, the key dialog, the message after a wrong key, and the lost connection have no violations."""
    with open_page(browser, SIZES["phone"], scheme) as page:
        page.goto(paused.view("calls"))
        page.locator("#voice").click()
        assert violations(page) == []
        page.keyboard.press("Escape")
        page.locator("#calls-enter-ground_clear_start").click()
        dialog = page.locator("#ask-key")
        expect(dialog).to_contain_text("need the key")
        assert violations(page) == []
        dialog.locator("input").fill("not-the-key")
        dialog.locator("button[value=save]").click()
        expect(dialog).to_contain_text("Wrong key")
        assert violations(page) == []
        page.keyboard.press("Escape")
        page.route("**/stream?*", lambda route: route.abort())
        page.clock.install()
        page.reload()
        page.clock.fast_forward(20_000)
        expect(page.locator("#lost")).to_contain_text("No answer from the watch")
        assert violations(page) == []


def test_a_reply_violates_no_rule(context: BrowserContext, paused: PausedPage) -> None:
    """The reply to a change has no violations."""
    page = context.new_page()
    page.goto(f"{paused.view('instructor')}#key={paused.key}")
    page.locator("#remark").fill("looked at")
    page.locator("#remark-form button").click()
    expect(page.locator("#reply")).to_contain_text("remark")
    assert violations(page) == []


def test_no_view_scrolls_horizontally(browser: Browser, paused: PausedPage) -> None:
    """From the narrowest phone to the widest screen no page scrolls horizontally."""
    wide = {}
    with open_page(browser, (WIDTHS[0], HEIGHT), "dark") as page:
        for name in every_view(page, paused):
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": HEIGHT})
                over = page.evaluate("() => document.scrollingElement.scrollWidth - innerWidth")
                if over > 0:
                    wide[name, width] = over
    assert wide == {}


def test_controls_are_large_enough(browser: Browser, paused: PausedPage) -> None:
    """Every control has the minimum size, and controls used in flight have the larger one."""
    small = {}
    with open_page(browser, SIZES["phone"], "dark") as page:
        for name in every_view(page, paused):
            tiny = [
                one
                for one, least, _ in page.locator(CONTROLS).evaluate_all(TARGET_SIZES)
                if least < MIN_TARGET_PX
            ]
            tiny += [
                one
                for one, _, high in page.locator(MAIN_CONTROLS).evaluate_all(TARGET_SIZES)
                if high < MAIN_TARGET_PX
            ]
            if tiny:
                small[name] = tiny
    assert small == {}


def test_reduced_motion_is_respected(browser: Browser, paused: PausedPage) -> None:
    """With reduced motion no element has a transition or an animation."""
    moving = {}
    with open_page(browser, SIZES["desktop"], "dark") as page:
        for name in every_view(page, paused):
            animations = page.evaluate("() => document.getAnimations().length")
            transitions = page.evaluate(
                "() => [...document.querySelectorAll('*')].filter(one => getComputedStyle(one).transitionDuration.split(', ')"
                ".some(text => parseFloat(text) > 0) && getComputedStyle(one).transitionProperty !== 'none').length"
            )
            if animations or transitions:
                moving[name] = (animations, transitions)
    assert moving == {}
