"""Tests of judging afresh: what columns say of a recording is what was told live, to the byte."""

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
from rules.signals.column_builder import NotColumnar
from tests.bridge.builders import PACK, TRIP, write_pack
from tests.bridge.recording.builders import RecordedDevice
from tests.bridge.rejudge.recorded_flights import record_everything


def again(recording: Recording, pack: Pack) -> list[tuple[str, bytes]]:
    """What the live core says of it, frame by frame."""
    return [(EVENT_TOPICS[type(told)], encode_message(told)) for told in replay_events(recording, pack)]


def afresh(path: Path, pack: Pack) -> RejudgeResult:
    """A recording judged by columns."""
    judged = rejudge(open_recording(path), pack)
    assert judged.by_columns
    return judged


def test_the_same_pack_gives_the_same_bytes(pack: Pack, tmp_path: Path) -> None:
    """Entries and notes, in their order: nothing is other than when it was recorded."""
    judged = afresh(record_everything(pack, tmp_path), pack)
    assert judged.same
    assert judged.frames > 400
    assert len(judged.after) > 300
    kinds = {topic for topic, _ in judged.after}
    assert {
        "/event/call/undone",
        "/event/trip/updated",
        "/event/monitors/reset",
        "/event/session/noted",
    } <= kinds


def test_another_pack_gives_what_the_live_core_gives(pack: Pack, tmp_path: Path) -> None:
    """The columns are no better and no worse a judge."""
    path = record_everything(pack, tmp_path / "kept")
    text = PACK.replace("2800..3200 psi", "2400..3400 psi").replace("level: caution", "level: warning")
    other = load_pack(str(write_pack(tmp_path / "other", text)), trip=TRIP)
    judged = afresh(path, other)
    assert not judged.same
    assert judged.after == again(open_recording(path), other)


@pytest.mark.parametrize("part", [0, 2])
def test_parts_are_one_recording(pack: Pack, tmp_path: Path, part: int) -> None:
    """From the first part on, and from a later one, which begins with how all stood."""
    path = record_everything(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    paths = open_recording(path).paths
    assert len(paths) > 3
    recording = open_recording(paths[part])
    assert rejudge(recording, pack).after == again(open_recording(paths[part]), pack)


def test_a_recording_that_breaks_off_is_judged_as_far_as_it_goes(pack: Pack, tmp_path: Path) -> None:
    """What can be read is judged, and the fault says where it ends."""
    path = record_everything(pack, tmp_path, RecordingLimits(part_bytes=60000, min_free_bytes=0))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 2 // 3])
    recording = open_recording(path)
    judged = rejudge(recording, pack)
    assert recording.fault is not None
    assert judged.after == again(open_recording(path), pack)


def test_what_columns_cannot_do_is_judged_frame_by_frame(
    pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The result is the same, and it says how it came about."""

    def refuse(*_: object, **__: object) -> None:
        raise NotColumnar("not today")

    path = record_everything(pack, tmp_path)
    monkeypatch.setattr(judging, "BatchJudge", refuse)
    judged = rejudge(open_recording(path), pack)
    assert judged.same
    assert not judged.by_columns


def test_a_recording_of_nothing(pack: Pack, tmp_path: Path) -> None:
    """No frame came: what was asked is judged all the same."""
    booth = RecordedDevice(pack, tmp_path)
    booth.request("remark", reason="nobody is there")
    booth.request("confirm", "flow.before.documents")
    booth.recorder.finish()
    judged = rejudge(booth.read(), pack)
    assert judged.same
    assert len(judged.after) == 1


def test_progress_is_told(pack: Pack, tmp_path: Path) -> None:
    """How many frames there are, and at the end that all of them are judged."""
    heard: list[tuple[str, int, int | None]] = []
    path = record_everything(pack, tmp_path)
    frames = rejudge(open_recording(path), pack, lambda *told: heard.append(told)).frames
    assert sum(more for what, more, total in heard if what == "judging" and total == frames) == frames
