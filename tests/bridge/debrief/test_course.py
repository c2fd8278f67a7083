"""Tests of the course in the debrief of a recording: from the head, changed, emptied, and called `none`."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.debrief.from_recording import debrief_from_recording
from rules.packs.model import Pack
from tests.bridge.recording.builders import RecordedDevice


@pytest.mark.parametrize(
    ("requested", "expected"),
    [
        ((), "Course 12"),
        (("Course 14",), "Course 14"),
        (("",), ""),
        (("Course 14", ""), ""),
        (("none",), "none"),
    ],
)
def test_the_debrief_has_the_last_course(
    pack: Pack, tmp_path: Path, requested: tuple[str, ...], expected: str
) -> None:
    """The debrief has the course of the head until it is changed; an emptied course is none, and `none` is a name."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.device.session.course = "Course 12"
    recorded.wait(2.0)
    recorded.request("start_session", "Second")
    recorded.send(0.0)
    for course in requested:
        recorded.request("set_course", course)
    recorded.recorder.finish()
    recording = recorded.read_last()
    assert recording.head.course == "Course 12"
    assert debrief_from_recording(recording, pack).course == expected == recorded.device.session.course
