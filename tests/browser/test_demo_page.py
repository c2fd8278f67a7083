"""Tests of the page of the demonstration: trip sheet, gates, a live engine start, and the timeline.

`holdshort demo` flies the twin jet's departure with its slips, faster than real time.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser

SPEED = 20


@pytest.fixture
def demo() -> Iterator[str]:
    """The address of the demo, whose flight has just begun."""
    words = ["demo", "--headless", "--page", "127.0.0.1:0", "--speed", str(SPEED), "--stay"]
    with subprocess.Popen(
        [sys.executable, "-m", "bridge", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | {"COLUMNS": "200", "HOLDSHORT_DATA_DIR": "off"},
    ) as process:
        assert process.stdout is not None
        found = next(
            found
            for line in process.stdout
            if (found := re.search(r"page: (http://127\.0\.0\.1:\d+/)", line))
        )
        yield found[1]
        process.terminate()
        process.stdout.read()


def test_the_page_follows_the_demonstration(page: Page, demo: str) -> None:
    """A wrong trip value is explained, the crew's slips appear at their gates, and the engine start is plotted live."""
    check_the_trip_sheet(page, demo)
    check_the_push(page, demo)
    check_the_start(page, demo)
    page.goto(f"{demo}device/timeline")
    timeline = page.locator("[data-panel=timeline]")
    expect(timeline).to_contain_text(re.compile(r"Push back entered: 3 open, (\d+) of \1 judged"))
    expect(timeline).to_contain_text("left aft fuel pump is off")


def check_the_trip_sheet(page: Page, demo: str) -> None:
    """A conflicting mass is explained in the list and at its field; it is not applied."""
    page.goto(f"{demo}device/trip_sheet")
    field = page.locator("#trip-takeoff_mass")
    before = field.input_value()
    field.fill("59 000 kg")
    expect(page.locator("#message-takeoff_mass")).to_contain_text("59 000 kg, the fuel gives")
    expect(page.locator("#check")).to_contain_text("invalid")
    expect(page.locator("#check")).to_contain_text("checked with 1 changed value")
    field.fill(before)
    expect(page.locator("#changes")).to_have_text("No changes.")


def check_the_push(page: Page, demo: str) -> None:
    """Forgotten items are shown at the cue with a notice; then comes the next phase with its gate."""
    page.goto(f"{demo}device/ahead")
    expect(page.locator(".head .phase")).to_contain_text("Push back", timeout=90_000)
    expect(page.locator("[data-panel=notices]")).to_contain_text("left aft fuel pump is off")
    expect(page.locator("#gate-engine_start")).to_contain_text("Engine start")


def check_the_start(page: Page, demo: str) -> None:
    """The traces begin automatically, with their numbers as text, the clock, and the moments of the start."""
    page.goto(f"{demo}device/start")
    expect(page.locator("canvas").first).to_be_visible(timeout=90_000)
    main = page.locator("main")
    for words in ("N2", "N1", "EGT", "minimum N2 for fuel", "start EGT limit"):
        expect(main).to_contain_text(words)
    expect(page.locator(".marks")).to_contain_text("light-off", timeout=60_000)
    # The page shows the latest start: that of engine 2 with its finding, or already that of engine 1 with a link to it.
    expect(main).to_contain_text(re.compile(r"at least 25 %|Start of engine 2 [\d:]+, 1 finding"))
    colours = page.locator("canvas").first.evaluate(
        "one => new Set(one.getContext('2d').getImageData(0, 0, one.width, one.height).data).size"
    )
    assert colours > 8
