"""Tests of rejudging: columns give the recorded events to the byte."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.recording.file_format import EVENT_TOPICS, encode_message
from bridge.recording.reader import Recording, open_recording
from bridge.recording.replay_judge import replay_events
from bridge.recording.writer import RecordingLimits
from bridge.rejudge import judging
from bridge.rejudge.judging import RejudgeResult, rejudge
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.signals.input_log import NotColumnar
from tests.bridge.builders import PACK, TRIP, write_pack
from tests.bridge.recording.builders import RecordedDevice
from tests.bridge.rejudge.recorded_flights import record_everything


def replay(recording: Recording, pack: Pack) -> list[tuple[str, bytes]]:
    """Replay a recording frame by frame."""
    return [(EVENT_TOPICS[type(event)], encode_message(event)) for event in replay_events(recording, pack)]


def rejudge_by_columns(path: Path, pack: Pack) -> RejudgeResult:
    """Rejudge a recording over columns."""
    judged = rejudge(open_recording(path), pack)
    assert judged.by_columns
    return judged


def test_the_same_pack_gives_the_same_bytes(pack: Pack, tmp_path: Path) -> None:
    """The same pack gives the recorded events in order, to the byte."""
    judged = rejudge_by_columns(record_everything(pack, tmp_path), pack)
    assert judged.same
    assert judged.frames > 400
    assert len(judged.after) > 300
    kinds = {topic for topic, _ in judged.after}
    assert {
        "/event/call/undone",
        "/event/trip/updated",
        "/event/monitors/reset",
        "/event/data/missing",
        "/event/session/seat_assigned",
    } <= kinds


def test_another_pack_gives_the_events_of_a_replay(pack: Pack, tmp_path: Path) -> None:
    """With another pack columns give the same events as frame by frame."""
    path = record_everything(pack, tmp_path / "recorded")
    text = PACK.replace("2800..3200 psi", "2400..3400 psi").replace("level: caution", "level: warning")
    other = load_pack(str(write_pack(tmp_path / "other", text)), trip=TRIP)
    judged = rejudge_by_columns(path, other)
    assert not judged.same
    assert judged.after == replay(open_recording(path), other)


@pytest.mark.parametrize("part", [0, 2])
def test_parts_are_one_recording(pack: Pack, tmp_path: Path, part: int) -> None:
    """Rejudging works from the first part, and from a later one, which starts with a keyframe."""
    path = record_everything(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    paths = open_recording(path).paths
    assert len(paths) > 3
    recording = open_recording(paths[part])
    assert rejudge(recording, pack).after == replay(open_recording(paths[part]), pack)


def test_a_cut_recording_is_judged(pack: Pack, tmp_path: Path) -> None:
    """The readable part of a cut recording is judged, and the fault names its end."""
    path = record_everything(pack, tmp_path, RecordingLimits(part_bytes=60000, min_free_bytes=0))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    recording = open_recording(path)
    judged = rejudge(recording, pack)
    assert recording.fault is not None
    assert judged.after == replay(open_recording(path), pack)


def test_not_columnar_recordings_are_replayed(
    pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If columns cannot represent a recording, the result is the same, and `by_columns` is False."""

    def refuse(*_: object, **__: object) -> None:
        raise NotColumnar("not today")

    path = record_everything(pack, tmp_path)
    monkeypatch.setattr(judging, "batch_judge", refuse)
    judged = rejudge(open_recording(path), pack)
    assert judged.same
    assert not judged.by_columns


def test_a_recording_without_frames(pack: Pack, tmp_path: Path) -> None:
    """Without any frame the requests are judged."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.request("remark", reason="nobody is there")
    recorded.request("confirm", "flow.before.documents")
    recorded.recorder.finish()
    judged = rejudge(recorded.read(), pack)
    assert judged.same
    assert len(judged.after) == 1


def test_progress(pack: Pack, tmp_path: Path) -> None:
    """The progress has the number of frames, and in the end all are judged."""
    reported: list[tuple[str, int, int | None]] = []
    path = record_everything(pack, tmp_path)
    frames = rejudge(open_recording(path), pack, lambda *event: reported.append(event)).frames
    assert sum(more for step, more, total in reported if step == "judging" and total == frames) == frames
