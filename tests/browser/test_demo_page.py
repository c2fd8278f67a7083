"""The whole demonstration behind a page: papers, gates, an engine start drawn live, and the flight's timeline.

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

pytestmark = pytest.mark.browser

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


def test_the_demonstration_is_followed_from_the_papers_to_the_engine_start(page: Page, demo: str) -> None:
    """Papers that cannot be right say why; the crew's slips are told at their gates; the start is drawn as it goes on."""
    see_papers_tried(page, demo)
    see_the_push(page, demo)
    see_the_start(page, demo)
    page.goto(f"{demo}device/timeline")
    timeline = page.locator("[data-panel=timeline]")
    expect(timeline).to_contain_text("Push back: entered with 3 open")
    expect(timeline).to_contain_text("left aft fuel pump is off")


def see_papers_tried(page: Page, demo: str) -> None:
    """A mass that does not fit the others is shown with the working, at its field too; nothing is taken over by that."""
    page.goto(f"{demo}device/papers")
    field = page.locator("#paper-takeoff_mass")
    before = field.input_value()
    field.fill("59 000 kg")
    expect(page.locator("#says-takeoff_mass")).to_contain_text("zero-fuel mass 48 600 kg plus fuel on board")
    expect(page.locator("#tried")).to_contain_text("cannot be right")
    expect(page.locator("#tried")).to_contain_text("tried with 1 value as typed")
    field.fill(before)
    expect(page.locator("#changes")).to_have_text("Nothing is changed.")


def see_the_push(page: Page, demo: str) -> None:
    """What the crew forgot stands there at the cue and is told; then the next phase comes, with the next gate."""
    page.goto(f"{demo}device/ahead")
    expect(page.locator(".head .phase")).to_contain_text("Push back", timeout=90_000)
    expect(page.locator("[data-panel=told]")).to_contain_text("left aft fuel pump is off, needs on")
    expect(page.locator("#gate-engine_start")).to_contain_text("Engine start")


def see_the_start(page: Page, demo: str) -> None:
    """The traces begin by themselves, with the numbers in words beside them, the clock, and the marks of the start."""
    page.goto(f"{demo}device/start")
    expect(page.locator("canvas").first).to_be_visible(timeout=90_000)
    main = page.locator("main")
    for words in ("N2", "N1", "EGT", "minimum N2 for fuel", "start EGT limit"):
        expect(main).to_contain_text(words)
    expect(page.locator(".marks")).to_contain_text("light-off", timeout=60_000)
    expect(page.locator("#wrong-1, .amiss")).to_contain_text("at least 25 %")
    drawn = page.locator("canvas").first.evaluate(
        "one => new Set(one.getContext('2d').getImageData(0, 0, one.width, one.height).data).size"
    )
    assert drawn > 8
