"""Tests of the pages of sessions and trends, and of the controls of a recording, in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from bridge.recording.playback_device import Playback
from bridge.store.database import open_store
from tests.bridge.debrief.recorded_flight import recorded_flight
from tests.bridge.trends.sample_store import fill, sample_rows
from tests.browser.paused_flight import PausedPage, serve_paused
from tests.browser.screenshots import open_page
from tests.browser.test_accessibility import SIZES, violations

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PausedPage]:
    """A watch that plays a recording, with a store of sixty sessions."""
    folder = tmp_path_factory.mktemp("history")
    url = f"sqlite:///{folder}/store.sqlite"
    engine = open_store(url)
    fill(engine, sample_rows(60))
    engine.dispose()
    recording: Path = recorded_flight(folder / "flown", until_s=60.0)
    with serve_paused([Playback(f"recording:{recording}").device], url) as page:
        yield page


@pytest.mark.parametrize("scheme", ["dark", "light"])
@pytest.mark.parametrize("size", SIZES)
def test_the_pages_violate_no_rule(browser: Browser, history: PausedPage, size: str, scheme: str) -> None:
    """Trends, sessions and the link of a recording have no violations and do not scroll horizontally."""
    with open_page(browser, SIZES[size], scheme) as page:
        for path in ("trends", "trends?course=Course+12", "trends?course=none", "sessions", "bay-1/link"):
            page.goto(f"{history.address}{path}")
            assert violations(page) == [], path
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def test_filters_work_without_a_script(browser: Browser, history: PausedPage) -> None:
    """The filters work with the form alone, without scripts."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{history.address}trends")
    expect(page.locator("main")).to_contain_text("60 sessions")
    page.select_option("select[name=course]", "Course 12")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("main")).to_contain_text("20 sessions")
    expect(page.locator("select[name=course]")).to_have_value("Course 12")
    context.close()


def test_a_recording_is_controlled_from_the_page(browser: Browser, history: PausedPage) -> None:
    """Buttons pause, seek and change the speed; the instructor's view links to the sessions."""
    with open_page(browser, SIZES["phone"], "dark") as page:
        page.goto(f"{history.address}#key={history.key}")
        page.goto(f"{history.address}bay-1/link")
        page.get_by_role("button", name="Pause").click()
        expect(page.locator("#playback")).to_contain_text("paused")
        page.locator("#seek-to").fill("0:00:30")
        page.get_by_role("button", name="Go there").click()
        expect(page.locator("#playback")).to_contain_text("0:00:30")
        page.get_by_role("button", name="4 \N{MULTIPLICATION SIGN}", exact=True).click(
            delay=450
        )  # two presses within 0.4 s count as one
        expect(page.locator("#do-speed-4")).to_have_attribute("aria-pressed", "true")
        page.goto(f"{history.address}bay-1/instructor")
        page.get_by_role("link", name="Sessions").click()
        expect(page.get_by_role("heading", name="Sessions")).to_be_visible()
