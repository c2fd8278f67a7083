"""Takes pictures of every view, at every size, dark and light, of a flight at an interesting moment.

Takes: a folder.  Gives: PNG files in it, named VIEW-SIZE-SCHEME.png; or the picture of the README.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, expect, sync_playwright

from bridge.page.views.registry import VIEWS
from tests.browser.paused_flight import MOMENTS, PausedPage, fly_until, serve_paused
from tests.requirements import CHROMIUM, find_chromium

SIZES = {
    "phone": (360, 740),
    "tablet": (820, 1180),
    "desktop": (1440, 900),
    "large": (2560, 1440),
}
SCHEMES = ("dark", "light")
AT_START = frozenset({"start", "timeline", "older"})
"""Views that are shown at the engine start; the others are shown before the push."""
README_PICTURE = Path(__file__).parents[1] / "documents" / "ahead.png"
README_SIZE = (900, 760)
"""Width and height of the picture of the README, px."""


def save_screenshots(folder: Path) -> int:
    """Take all pictures.

    Args:
        folder: created if it is missing.

    Returns:
        The number of pictures.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with launched_browser() as browser, serve_paused(fly_until(MOMENTS)) as paused:
        for size in SIZES:
            for scheme in SCHEMES:
                _screenshot_views(browser, paused, folder, size, scheme)
    return len(list(folder.glob("*.png")))


def save_readme_picture(path: Path) -> None:
    """Take the picture of the README: the open items before the push, from the demonstration's flight.

    Args:
        path: the PNG file; the words of the page go into a text file beside it, so that a test sees an old picture.
    """
    moment = {"push": MOMENTS["push"]}
    with launched_browser() as browser, serve_paused(fly_until(moment)) as paused:
        save_readme_picture_with(browser, paused, path)


def save_readme_picture_with(browser: Browser, paused: PausedPage, path: Path) -> None:
    """Take the picture of the README from a page that is served already."""
    with open_page(browser, README_SIZE, "dark") as page:
        page.goto(paused.view("ahead"))
        expect(page.locator(".head .link")).to_have_attribute("data-state", "receiving")
        page.screenshot(path=path)
        words = page.locator("main").inner_text()
    path.with_suffix(".txt").write_text(f"{words.strip()}\n", encoding="utf-8")


@contextmanager
def launched_browser() -> Iterator[Browser]:
    """Run the system's chromium while the block runs."""
    found = find_chromium()
    if found is None:
        sys.exit(CHROMIUM)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@contextmanager
def open_page(browser: Browser, size: tuple[int, int], scheme: str) -> Iterator[Page]:
    """Open a page of this size and colour scheme, in a new browser profile."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme=scheme,  # type: ignore[arg-type]  # dark or light
        reduced_motion="reduce",
    )
    yield context.new_page()
    context.close()


def every_view(page: Page, paused: PausedPage) -> Iterator[str]:
    """Open each view, prepare it, and yield its name while the page shows it."""
    for view in VIEWS:
        device = "start" if view.id in AT_START else "push"
        page.goto(paused.view(view.id, device))
        expect(page.locator(".head .link")).to_have_attribute("data-state", "receiving")
        if view.id in PREPARATIONS:
            PREPARATIONS[view.id](page)
        yield view.id
    page.goto(paused.address)
    expect(page.locator(".device")).to_have_count(len(MOMENTS))
    yield "devices"


def _screenshot_views(browser: Browser, paused: PausedPage, folder: Path, size: str, scheme: str) -> None:
    with open_page(browser, SIZES[size], scheme) as page:
        for name in every_view(page, paused):
            page.screenshot(path=folder / f"{name}-{size}-{scheme}.png")
        page.goto(paused.view("ahead"))
        page.locator("#voice").click()
        page.screenshot(path=folder / f"voice-{size}-{scheme}.png")
        page.keyboard.press("Escape")
        page.evaluate("document.getElementById('ask-key').showModal()")
        page.screenshot(path=folder / f"key-{size}-{scheme}.png")


def _type_trip_values(page: Page) -> None:
    """Change one value to a conflicting one, and one to an unreadable one."""
    expect(page.locator("#check")).not_to_contain_text("Checking")
    page.locator("#trip-takeoff_mass").fill("59 000 kg")
    page.locator("#trip-v1").fill("fast")
    expect(page.locator("#message-v1")).not_to_be_empty()


def _search_signals(page: Page) -> None:
    page.locator("#q").fill("pump")
    expect(page.locator("#found li strong").first).to_contain_text("pump")


def _wait_for_plot(page: Page) -> None:
    expect(page.locator("canvas").first).to_be_visible()


PREPARATIONS: dict[str, Callable[[Page], None]] = {
    "trip_sheet": _type_trip_values,
    "signals": _search_signals,
    "start": _wait_for_plot,
}
"""Actions on a view before its picture is taken."""
