"""Tests that the README of recordings agrees with the code.

Takes: `bridge/recording/README.md` and the code.  Gives: tests that fail when either changes alone.
"""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pytest

import bridge.recording
from bridge.recording.file_format import CHANNEL_MEANINGS, CHANNELS, EVENT_TYPES
from bridge.recording.live_file import ACTIVE_WITHIN_S
from bridge.recording.recorder import MAX_QUEUED, WARNING_FACTOR
from bridge.recording.writer import CHUNK_S, SYNC_S, RecordingLimits
from rules.judge.events import FindingOpened
from rules.packs.model import Pack
from tests.bridge.recording.builders import RecordedDevice

README = (Path(bridge.recording.__path__[0]) / "README.md").read_text(encoding="utf-8")


def test_each_channel_is_described() -> None:
    """Every channel has a meaning, and the table of channels names it."""
    assert CHANNEL_MEANINGS.keys() | EVENT_TYPES.keys() == CHANNELS.keys()
    assert all(f"| `{channel}` |" in README for channel in CHANNELS)


def test_the_numbers_are_those_of_the_code() -> None:
    """Sizes, times and limits in the text are those of the code."""
    limits = RecordingLimits()
    assert f"at most {CHUNK_S:g} s" in README
    assert f"each {SYNC_S:g} s" in README
    assert f"beyond {MAX_QUEUED} waiting" in README
    assert f"After {limits.part_bytes / 1e6:g} MB" in README
    assert f"({limits.budget_bytes / 1e9:g} GB)" in README
    assert f"the last {ACTIVE_WITHIN_S:g} s" in README
    assert f"less than {WARNING_FACTOR * limits.min_free_bytes / 1e9:g} GB left" in README
    assert f"less than {limits.min_free_bytes / 1e6:g} MB" in README


def test_the_example_reads_a_recording(pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of the README, run unchanged, prints each finding of a recording."""
    recorded = RecordedDevice(pack, tmp_path)
    for second in range(8):
        calls = {"push_approved": 1.0} if second else {}
        recorded.send(
            float(second), {"lights.beacon": "off", "flight.ground_speed": 2.0 * (second > 5)}, **calls
        )
        recorded.wait(1.0)
    recorded.recorder.finish()
    recorded.read().paths[0].rename(tmp_path / "recording.mcap")
    example = README.partition("```python\n")[2].partition("```")[0]
    monkeypatch.chdir(tmp_path)
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(example, {})  # noqa: S102 - our own document
    found = [event for event in recorded.events if isinstance(event, FindingOpened)]
    assert len(printed.getvalue().splitlines()) == len(found) > 0
