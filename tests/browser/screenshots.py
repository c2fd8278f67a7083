"""Pictures of every view, at every size, dark and light, of a flight at an interesting moment.

Takes: a folder.  Gives: PNG files in it, named VIEW-SIZE-SCHEME.png.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, expect, sync_playwright

from bridge.page.views.registry import VIEWS
from tests.browser.paused_flight import MOMENTS, PausedPage, fly_until, serve_paused

SIZES = {
    "phone": (360, 740),
    "tablet": (820, 1180),
    "desktop": (1440, 900),
    "large": (2560, 1440),
}
SCHEMES = ("dark", "light")
AT_START = frozenset({"start", "timeline", "older"})
"""Views that are looked at while the engine starts; the others before the push."""


def save_screenshots(folder: Path) -> int:
    """Take them all.

    Args:
        folder: is made where it is missing.

    Returns:
        How many were taken.
    """
    found = shutil.which("chromium")
    folder.mkdir(parents=True, exist_ok=True)
    with serve_paused(fly_until(MOMENTS)) as still, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        for size in SIZES:
            for scheme in SCHEMES:
                _screenshot_views(browser, still, folder, size, scheme)
        browser.close()
    return len(list(folder.glob("*.png")))


@contextmanager
def open_page(browser: Browser, size: tuple[int, int], scheme: str) -> Iterator[Page]:
    """A page of this size and in these colours, in a browser that has seen nothing yet."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme=scheme,  # type: ignore[arg-type]  # dark or light
        reduced_motion="reduce",
    )
    yield context.new_page()
    context.close()


def every_view(page: Page, still: PausedPage) -> Iterator[str]:
    """Go from view to view, each with something on it; gives the name of each while the page shows it."""
    for view in VIEWS:
        device = "start" if view.id in AT_START else "push"
        page.goto(still.view(view.id, device))
        expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
        if view.id in SETTLED:
            SETTLED[view.id](page)
        yield view.id
    page.goto(still.address)
    expect(page.locator(".device")).to_have_count(len(MOMENTS))
    yield "devices"


def _screenshot_views(browser: Browser, still: PausedPage, folder: Path, size: str, scheme: str) -> None:
    with open_page(browser, SIZES[size], scheme) as page:
        for name in every_view(page, still):
            page.screenshot(path=folder / f"{name}-{size}-{scheme}.png")
        page.goto(still.view("ahead"))
        page.locator("#voice").click()
        page.screenshot(path=folder / f"voice-{size}-{scheme}.png")
        page.keyboard.press("Escape")
        page.evaluate("document.getElementById('ask-key').showModal()")
        page.screenshot(path=folder / f"key-{size}-{scheme}.png")


def _type_trip_values(page: Page) -> None:
    """One paper changed to what cannot be, one to what cannot be read."""
    expect(page.locator("#tried")).not_to_contain_text("Looking whether")
    page.locator("#paper-takeoff_mass").fill("59 000 kg")
    page.locator("#paper-v1").fill("fast")
    expect(page.locator("#says-v1")).not_to_be_empty()


def _search_signals(page: Page) -> None:
    page.locator("#q").fill("pump")
    expect(page.locator("#found li strong").first).to_contain_text("pump")


def _wait_for_plot(page: Page) -> None:
    expect(page.locator("canvas").first).to_be_visible()


SETTLED: dict[str, Callable[[Page], None]] = {
    "papers": _type_trip_values,
    "signals": _search_signals,
    "start": _wait_for_plot,
}
"""What is done on a view before its picture is taken."""
