"""The pages of many sessions, and a recording that is turned, in a real browser."""

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
def many(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PausedPage]:
    """A recording on the watch, and a store of sixty sessions beside it."""
    folder = tmp_path_factory.mktemp("many")
    url = f"sqlite:///{folder}/store.sqlite"
    engine = open_store(url)
    fill(engine, sample_rows(60))
    engine.dispose()
    recording: Path = recorded_flight(folder / "flown", until_s=60.0)
    with serve_paused([Playback(f"recording:{recording}").device], url) as stood:
        yield stood


@pytest.mark.parametrize("scheme", ["dark", "light"])
@pytest.mark.parametrize("size", SIZES)
def test_the_pages_break_no_rule_of_accessibility(
    browser: Browser, many: PausedPage, size: str, scheme: str
) -> None:
    """Names, roles, contrast, targets: nothing is found on the trends, the sessions, nor on the link of a recording; nothing is wider than the screen."""
    with open_page(browser, SIZES[size], scheme) as page:
        for path in ("trends", "trends?course=Course+12", "trends?course=none", "sessions", "bay-1/link"):
            page.goto(f"{many.address}{path}")
            assert violations(page) == [], path
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def test_filters_work_without_a_script(browser: Browser, many: PausedPage) -> None:
    """A choice is made with a form alone, and shows fewer sessions."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{many.address}trends")
    expect(page.locator("main")).to_contain_text("60 sessions")
    page.select_option("select[name=course]", "Course 12")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("main")).to_contain_text("20 sessions")
    expect(page.locator("select[name=course]")).to_have_value("Course 12")
    context.close()


def test_a_recording_is_turned_with_a_touch(browser: Browser, many: PausedPage) -> None:
    """It stands still, goes elsewhere and faster at a touch, and says so; the instructor's view leads to the sessions."""
    with open_page(browser, SIZES["phone"], "dark") as page:
        page.goto(f"{many.address}#key={many.key}")
        page.goto(f"{many.address}bay-1/link")
        page.get_by_role("button", name="Stand still").click()
        expect(page.locator("#playing")).to_contain_text("standing still")
        page.locator("#seek-to").fill("0:00:30")
        page.get_by_role("button", name="Go there").click()
        expect(page.locator("#playing")).to_contain_text("0:00:30")
        page.get_by_role("button", name="4 \N{MULTIPLICATION SIGN}", exact=True).click(
            delay=450
        )  # two touches within 0.4 s count as one
        expect(page.locator("#do-speed-4")).to_have_attribute("aria-pressed", "true")
        page.goto(f"{many.address}bay-1/instructor")
        page.get_by_role("link", name="Sessions").click()
        expect(page.get_by_role("heading", name="Sessions")).to_be_visible()
