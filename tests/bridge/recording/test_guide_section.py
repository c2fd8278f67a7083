"""The guide's section on recordings and the code say the same.

Takes: DEVELOPERS.md, section 12, and the code.  Gives: tests that fail when either changes alone.
"""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pytest

from bridge.recording.file_format import CHANNELS
from bridge.recording.recorder import WARNING_FACTOR
from bridge.recording.writer import CHUNK_S, SYNC_S, RecordingLimits
from rules.packs.model import Pack
from tests.bridge.recording.builders import RecordedDevice

GUIDE = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = GUIDE.partition("## 12. ")[2]


@pytest.mark.parametrize("channel", CHANNELS)
def test_each_channel_is_explained(channel: str) -> None:
    """The table of channels names each."""
    assert f"`{channel}`" in SECTION


def test_the_numbers_are_those_of_the_code() -> None:
    """What is said of chunks, parts, budgets and free space is so."""
    assert f"at most {CHUNK_S:g} s" in SECTION
    assert f"each {SYNC_S:g} s" in SECTION
    assert f"After {RecordingLimits().part_bytes / 1e6:g} MB" in SECTION
    assert f"({RecordingLimits().budget_bytes / 1e9:g} GB)" in SECTION
    assert f"less than {WARNING_FACTOR * RecordingLimits().min_free_bytes / 1e9:g} GB left" in SECTION
    assert f"less than {RecordingLimits().min_free_bytes / 1e6:g} MB left" in SECTION


def test_the_example_reads_a_recording(pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The lines of the guide, run as they stand, print each finding of a recording."""
    booth = RecordedDevice(pack, tmp_path)
    for second in range(8):
        calls = {"push_approved": 1.0} if second else {}
        booth.send(
            float(second), {"lights.beacon": "off", "flight.ground_speed": 2.0 * (second > 5)}, **calls
        )
        booth.wait(1.0)
    booth.recorder.finish()
    booth.read().paths[0].rename(tmp_path / "recording.mcap")
    example = SECTION.partition("```python\n")[2].partition("```")[0]
    monkeypatch.chdir(tmp_path)
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(example, {})  # noqa: S102 - our own guide
    found = [told for told in booth.events if type(told).__name__ == "FindingOpened"]
    assert len(said.getvalue().splitlines()) == len(found) > 0
