"""Fixtures of the tests with a real browser: Debian's chromium, and a watch with a flight.

Takes: nothing.  Gives: a browser, pages, a paused flight, and a running watch.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.browser.paused_flight import MOMENTS, PausedPage, fly_until, serve_paused
from tests.browser.watch_process import (
    TIMEOUT_S,
    AeroplaneSender,
    WatchProcess,
    aeroplane_sender,
    watch_process,
)
from tests.requirements import CHROMIUM, find_chromium, skip_or_fail

PHONE = {"width": 360, "height": 740}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The system's chromium; without it these tests are skipped, but in CI they fail."""
    found = find_chromium()
    if found is None:
        skip_or_fail(CHROMIUM)
    expect.set_options(timeout=TIMEOUT_S * 1000)
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield launched
        launched.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A new browser profile of the size of a phone."""
    context = browser.new_context(viewport=PHONE, color_scheme="dark")  # type: ignore[arg-type]  # width and height
    context.set_default_timeout(TIMEOUT_S * 1000)
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext) -> Iterator[Page]:
    """A page of the profile; an error of its scripts fails the test."""
    errors: list[str] = []
    page = context.new_page()
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield page
    assert errors == []


@pytest.fixture(scope="module")
def paused() -> Iterator[PausedPage]:
    """The demonstration's flight on two devices, paused at two moments."""
    with serve_paused(fly_until(MOMENTS)) as paused_page:
        yield paused_page


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[WatchProcess, AeroplaneSender]]:
    """One watch for the whole module, and the aeroplane that sends to it."""
    with watch_process(tmp_path_factory.mktemp("flight")) as watch, aeroplane_sender(watch) as aeroplane:
        yield watch, aeroplane


@pytest.fixture
def flight(running: tuple[WatchProcess, AeroplaneSender]) -> tuple[WatchProcess, AeroplaneSender]:
    """The watch with a new session, and the aeroplane ready at the stand."""
    watch, aeroplane = running
    aeroplane.reset()
    watch.begin()
    return running
