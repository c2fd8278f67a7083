"""Tests of the page's own queue of utterances, in a browser, with a clock and an engine of the test."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.browser.watch_process import AeroplaneSender, WatchProcess

pytestmark = pytest.mark.browser

PLAY = """async ([steps, address]) => {
  const { SpeechQueue } = await import(address);
  let now = 0, end = null;
  const spoken = [];
  const queue = new SpeechQueue({ speak: (one, ended) => { spoken.push(one.speech); end = ended; }, stop() {} }, () => now);
  for (const [at, key, priority, notices] of steps) {
    now = at;
    if (key === "end") end();
    else queue.put({ key, priority, notices, speech: `${key}.`, interrupts: [], expires_in_s: 25 });
    queue.pump();
  }
  return spoken;
}"""


def test_notices_that_expire_unspoken_are_counted_in_the_next_of_their_level(
    page: Page, flight: tuple[WatchProcess, AeroplaneSender]
) -> None:
    """The first is spoken for 30 s; of the five notices that waited then, the next caution says four, and no callout says any."""
    watch = flight[0]
    page.goto(watch.view("ahead"))
    steps = [
        [0, "a", "caution", 1],
        [1, "b", "caution", 3],
        [2, "c", "caution", 1],
        [3, "d", "advisory", 1],
        [29, "f", "callout", 0],
        [30, "e", "caution", 1],
        [31, "end", "", 0],
        [32, "end", "", 0],
        [33, "end", "", 0],
    ]
    spoken = page.evaluate(PLAY, [steps, f"{watch.address}static/widgets/voice/speech_queue.js"])
    assert spoken == ["a.", "f.", "e. 4 earlier ones not spoken."]
