"""Tests of the report in a real browser: accessibility, widths, printing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from bridge.debrief.model import DebriefData
from tests.browser.test_accessibility import violations

pytestmark = pytest.mark.browser

PHONE, DESKTOP = (360, 740), (1440, 900)
FINDINGS_VISIBLE = """() => [...document.querySelectorAll('[data-at]')].map(one => {
  const mark = one.scrollWidth * one.dataset.at - one.scrollLeft;
  return mark > 0 && mark < one.clientWidth;
})"""
HIDDEN = "all => all.filter(one => !one.checkVisibility({contentVisibilityAuto: true})).length"
ALL_VISIBLE = f"() => ({HIDDEN})([...document.querySelectorAll('details figure')]) === 0"


@contextmanager
def opened(
    browser: Browser, address: str, size: tuple[int, int], scheme: str = "light", *, script: bool = True
) -> Iterator[Page]:
    """The page in a window of the given size."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if scheme == "dark" else "light",
        java_script_enabled=script,
    )
    page = context.new_page()
    page.goto(address)
    yield page
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESKTOP])
def test_the_page_has_no_accessibility_violations(
    browser: Browser, address: str, size: tuple[int, int], scheme: str
) -> None:
    """The checks of names, roles, contrast and headings pass, light or dark, small or large."""
    with opened(browser, address, size, scheme) as page:
        assert violations(page) == []


@pytest.mark.parametrize("width", [320, 375, 820, 1400])
def test_only_plots_and_tables_scroll_sideways(browser: Browser, address: str, width: int) -> None:
    """The page is as wide as its window."""
    with opened(browser, address, (width, 800)) as page:
        assert page.evaluate("document.documentElement.scrollWidth") == width


def test_on_a_phone_a_plot_shows_its_finding(browser: Browser, address: str, debrief: DebriefData) -> None:
    """A plot wider than the window is scrolled to its finding."""
    with opened(browser, address, PHONE) as page:
        shown = page.evaluate(FINDINGS_VISIBLE)
    assert len(shown) == len(debrief.findings)
    assert all(shown)


def test_printing_opens_folded_sections(browser: Browser, address: str) -> None:
    """On a screen flows without findings are folded; in print every plot is visible."""
    with opened(browser, address, DESKTOP) as page:
        assert page.locator("details figure").evaluate_all(HIDDEN) > 5
        page.emulate_media(media="print")
        page.wait_for_function(ALL_VISIBLE)  # fails after its timeout: the layout is asynchronous


def test_the_page_works_without_scripts(browser: Browser, address: str, tmp_path: Path) -> None:
    """Without scripts the page shows and prints the same."""
    with opened(browser, address, DESKTOP, script=False) as page:
        assert page.get_by_role("heading", name="Finding by finding").is_visible()
        assert page.locator("#plot-1 svg").is_visible()
        page.pdf(path=tmp_path / "printed.pdf", prefer_css_page_size=True)
    assert (tmp_path / "printed.pdf").stat().st_size > 50_000
