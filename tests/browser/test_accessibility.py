"""Every view for everybody: no violation of the accessibility rules, no sideways scrolling, targets for fingers.

The rules are those of axe-core, which checks the machine-testable part of WCAG 2.2 A and AA among others.  The flight
stands still at two moments of the demonstration: about to push back with items open, something wrong and a checklist
half read; and in the middle of an engine start.
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
LEAST_TARGET_PX, MAIN_TARGET_PX = 24, 44
"""WCAG 2.2, 2.5.8 Target Size (Minimum), and 2.5.5 (Enhanced) for what is pressed in flight."""
TOUCHED = "button:visible, .views a:visible, summary:visible, select:visible, input:visible"
MAIN = ".go:visible, .enter:visible, .undo:visible, .views a:visible, .choice:visible, #session-now .row button:visible"
SIZED = """all => all.map(one => {
  const box = (one.matches('input[type=checkbox], input[type=radio]') && one.closest('label') || one).getBoundingClientRect();
  return [one.id || one.textContent.trim(), Math.min(box.width, box.height), box.height];
})"""


def violations(page: Page) -> list[str]:
    """What axe finds on the page as it stands, one line each."""
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


@pytest.fixture(params=["dark", "light"])
def scheme(request: pytest.FixtureRequest) -> str:
    """The colours."""
    return str(request.param)


@pytest.mark.parametrize("size", SIZES)
def test_no_view_breaks_a_rule_of_accessibility(
    browser: Browser, still: PausedPage, size: str, scheme: str
) -> None:
    """Names, roles, contrast, order of headings, sizes of targets: nothing is found on any view, nor on the devices' page."""
    found = {}
    with open_page(browser, SIZES[size], scheme) as page:
        for name in every_view(page, still):
            if wrong := violations(page):
                found[name] = wrong
    assert found == {}


def test_the_rules_do_find_what_is_wrong(browser: Browser, still: PausedPage) -> None:
    """A field without a name and words that cannot be read are violations: the silence of the other tests means something."""
    with open_page(browser, SIZES["phone"], "dark") as page:
        page.goto(still.view("ahead"))
        page.evaluate("document.querySelector('main').append(document.createElement('input'))")
        page.evaluate("document.querySelector('footer').style.color = '#222'")
        assert {one.partition(":")[0] for one in violations(page)} >= {"label", "color-contrast"}


def test_what_comes_over_a_view_breaks_no_rule_either(
    browser: Browser, still: PausedPage, scheme: str
) -> None:
    """The voice's dialog, the key's, the answer to a wrong key, and the words on a watch that does not answer."""
    with open_page(browser, SIZES["phone"], scheme) as page:
        page.goto(still.view("calls"))
        page.locator("#voice").click()
        assert violations(page) == []
        page.keyboard.press("Escape")
        page.locator("#calls-enter-ground_clear_start").click()
        dialog = page.locator("#ask-key")
        expect(dialog).to_contain_text("needs the key")
        assert violations(page) == []
        dialog.locator("input").fill("not-the-key")
        dialog.locator("button[value=keep]").click()
        expect(dialog).to_contain_text("does not fit")
        assert violations(page) == []
        page.keyboard.press("Escape")
        page.route("**/stream?*", lambda route: route.abort())
        page.clock.install()
        page.reload()
        page.clock.fast_forward(20_000)
        expect(page.locator("#lost")).to_contain_text("does not answer")
        assert violations(page) == []


def test_a_message_in_passing_breaks_no_rule(context: BrowserContext, still: PausedPage) -> None:
    """What the watch answers to a change, over the view."""
    page = context.new_page()
    page.goto(f"{still.view('instructor')}#key={still.key}")
    page.locator("#remark").fill("looked at")
    page.locator("#remark-form button").click()
    expect(page.locator("#said")).to_contain_text("remark kept")
    assert violations(page) == []


def test_no_view_scrolls_sideways(browser: Browser, still: PausedPage) -> None:
    """From the narrowest telephone to the widest screen the page itself never has to be moved sideways."""
    wide = {}
    with open_page(browser, (WIDTHS[0], HEIGHT), "dark") as page:
        for name in every_view(page, still):
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": HEIGHT})
                over = page.evaluate("() => document.scrollingElement.scrollWidth - innerWidth")
                if over > 0:
                    wide[name, width] = over
    assert wide == {}


def test_what_can_be_touched_is_large_enough(browser: Browser, still: PausedPage) -> None:
    """Nothing to touch is smaller than the least size for a finger, and what is pressed in flight has the larger one."""
    small = {}
    with open_page(browser, SIZES["phone"], "dark") as page:
        for name in every_view(page, still):
            tiny = [
                one for one, least, _ in page.locator(TOUCHED).evaluate_all(SIZED) if least < LEAST_TARGET_PX
            ]
            tiny += [one for one, _, high in page.locator(MAIN).evaluate_all(SIZED) if high < MAIN_TARGET_PX]
            if tiny:
                small[name] = tiny
    assert small == {}


def test_nothing_moves_for_those_who_asked_for_that(browser: Browser, still: PausedPage) -> None:
    """Where reduced motion is asked for no element of any view has a transition or an animation."""
    moving = {}
    with open_page(browser, SIZES["desktop"], "dark") as page:
        for name in every_view(page, still):
            many = page.evaluate("() => document.getAnimations().length")
            timed = page.evaluate(
                "() => [...document.querySelectorAll('*')].filter(one => getComputedStyle(one).transitionDuration.split(', ')"
                ".some(text => parseFloat(text) > 0) && getComputedStyle(one).transitionProperty !== 'none').length"
            )
            if many or timed:
                moving[name] = (many, timed)
    assert moving == {}
