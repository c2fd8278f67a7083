"""The whole demonstration behind a page: an engine start drawn live, and the flight's timeline.

It flies the twin jet's departure with its slips, as `holdshort demo` does, faster than life.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

SPEED = 20


@pytest.fixture
def demo() -> Iterator[str]:
    """The demo's address; the flight has just begun."""
    words = ["demo", "--headless", "--page", "127.0.0.1:0", "--speed", str(SPEED), "--stay"]
    with subprocess.Popen(
        [sys.executable, "-m", "bridge", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | {"COLUMNS": "200", "HOLDSHORT_KEEP": "off"},
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


def test_an_engine_start_is_drawn_while_it_goes_on(page: Page, demo: str) -> None:
    """The traces begin by themselves, with the numbers in words beside them, the clock, and the marks of the start."""
    page.goto(f"{demo}device/start")
    expect(page.locator("canvas").first).to_be_visible(timeout=90_000)
    main = page.locator("main")
    for words in ("N2", "N1", "EGT"):
        expect(main).to_contain_text(words)
    expect(main).to_contain_text(re.compile(r"light-off|Light-off|light off", re.IGNORECASE), timeout=60_000)
    drawn = page.locator("canvas").first.evaluate(
        "one => new Set(one.getContext('2d').getImageData(0, 0, one.width, one.height).data).size"
    )
    assert drawn > 8
    page.goto(f"{demo}device/timeline")
    timeline = page.locator("[data-panel=timeline]")
    expect(timeline).to_contain_text("Push back")
    expect(timeline).to_contain_text("left aft fuel pump is off")
    page.goto(f"{demo}device/link")
    expect(page.locator("main")).to_contain_text("eceiving")
