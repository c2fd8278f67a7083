"""Every view for everybody: no violation of the accessibility rules, no sideways scrolling, the keyboard reaches all.

The rules are those of axe-core, which checks the machine-testable part of WCAG 2.2 A and AA among others.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from bridge.page.views import VIEWS
from tests.browser.flying import WITHIN_S, Watch, watching

SIZES = {"phone": (360, 740), "desktop": (1440, 900)}
NARROWEST, WIDEST = 320, 2560
LEAST_TARGET_PX = 24
"""WCAG 2.2, 2.5.8 Target Size (Minimum)."""


@pytest.fixture(scope="module")
def watch(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watch]:
    """A flight about to push back, with something open, a call made, and a checklist in the middle of its reading."""
    with watching(tmp_path_factory.mktemp("flight")) as (watch, aeroplane):
        aeroplane.set({"lights.beacon": "off", "lights.wing": "on", "hydraulics.1.pressure": 1200.0})
        yield watch


def opened(browser: Browser, watch: Watch, size: tuple[int, int], scheme: str) -> Page:
    """A page with the key, of this size and in these colours."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme=scheme,  # type: ignore[arg-type]  # dark or light
        reduced_motion="reduce",
    )
    context.set_default_timeout(WITHIN_S * 1000)
    page = context.new_page()
    page.goto(f"{watch.view('calls')}#key={watch.key}")
    if page.locator("#waited-enter-push_approved").count():
        page.locator("#waited-enter-push_approved").click()
        expect(page.locator("#said")).to_contain_text("call entered")
    page.goto(watch.view("checklist"))
    if page.locator("#read-before").count():
        page.locator("#read-before").click()
        expect(page.locator("#reading")).to_be_visible()
    return page


def violations(page: Page) -> list[str]:
    """What axe finds on the page as it stands, one line each."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]


@pytest.mark.parametrize("scheme", ["dark", "light"])
@pytest.mark.parametrize("size", SIZES)
def test_no_view_breaks_a_rule_of_accessibility(
    browser: Browser, watch: Watch, size: str, scheme: str
) -> None:
    """Names, roles, contrast, order of headings, sizes of targets: nothing is found on any view."""
    page = opened(browser, watch, SIZES[size], scheme)
    found = {}
    for view in VIEWS:
        page.goto(watch.view(view.id))
        expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
        if wrong := violations(page):
            found[view.id] = wrong
    page.context.close()
    assert found == {}


def test_the_rules_do_find_what_is_wrong(browser: Browser, watch: Watch) -> None:
    """A field without a name and words that cannot be read are violations: the silence of the other tests means something."""
    page = opened(browser, watch, SIZES["phone"], "dark")
    page.evaluate("document.querySelector('main').append(document.createElement('input'))")
    page.evaluate("document.querySelector('.caution').style.color = '#222'")
    assert {one.partition(":")[0] for one in violations(page)} >= {"label", "color-contrast"}
    page.context.close()


def test_the_dialogs_and_the_lost_banner_break_no_rule_either(browser: Browser, watch: Watch) -> None:
    """What comes over a view is held to the same rules."""
    page = opened(browser, watch, SIZES["phone"], "dark")
    page.goto(watch.view("ahead"))
    page.locator("#voice").click()
    assert violations(page) == []
    page.keyboard.press("Escape")
    page.evaluate("document.getElementById('ask-key').showModal()")
    assert violations(page) == []
    page.keyboard.press("Escape")
    page.evaluate(
        "document.getElementById('lost').hidden = false; document.getElementById('lost').textContent = 'lost'"
    )
    assert violations(page) == []
    page.context.close()


@pytest.mark.parametrize("width", [NARROWEST, WIDEST])
def test_no_view_scrolls_sideways(browser: Browser, watch: Watch, width: int) -> None:
    """From the narrowest telephone to the widest screen the page itself never has to be moved sideways."""
    page = opened(browser, watch, (width, 800), "dark")
    wide = {}
    for view in VIEWS:
        page.goto(watch.view(view.id))
        expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
        over = page.evaluate("() => document.scrollingElement.scrollWidth - innerWidth")
        if over > 0:
            wide[view.id] = over
    page.context.close()
    assert wide == {}


def test_what_can_be_touched_is_large_enough(browser: Browser, watch: Watch) -> None:
    """No button, link of the views or field is smaller than the least size for a finger."""
    page = opened(browser, watch, SIZES["phone"], "dark")
    small = {}
    for view in VIEWS:
        page.goto(watch.view(view.id))
        expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
        boxes = page.locator(
            "button:visible, .views a:visible, summary:visible, select:visible"
        ).evaluate_all(
            "all => all.map(one => [one.id || one.textContent.trim(), one.getBoundingClientRect().width, "
            "one.getBoundingClientRect().height])"
        )
        tiny = [name for name, wide, high in boxes if min(wide, high) < LEAST_TARGET_PX]
        if tiny:
            small[view.id] = tiny
    page.context.close()
    assert small == {}


def test_the_keyboard_reaches_the_calls_and_keeps_its_place(browser: Browser, watch: Watch) -> None:
    """Tab comes to a call, its focus is seen, and the page's own updates do not take it away."""
    page = opened(browser, watch, SIZES["desktop"], "dark")
    page.goto(watch.view("calls"))
    expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("() => document.activeElement.dataset.do ?? ''") == "call":
            break
    name = page.evaluate("() => document.activeElement.id")
    assert name
    outline = page.evaluate("() => getComputedStyle(document.activeElement).outlineStyle")
    assert outline != "none"
    before = page.locator(".head .when").inner_text()
    expect(page.locator(".head .when")).not_to_have_text(before)
    assert page.evaluate("() => document.activeElement.id") == name
    page.context.close()
