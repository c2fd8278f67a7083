"""Tests of the reader: other files are refused, and a recording that was cut anywhere is read up to the cut."""

from __future__ import annotations

import os
import random
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mcap.writer import Writer
from msgspec.structs import replace

from bridge.recording.file_format import HEAD, PROFILE, encode_message
from bridge.recording.reader import RecordedContent, RecordedItem, Recording, UnknownEvent, open_recording
from bridge.recording.writer import RecordingLimits
from rules.faults import InputFaults
from rules.packs.model import Pack
from rules.signals.model import Frame
from tests.bridge.recording.builders import RecordedDevice


class CompleteRecording:
    """A recording of several chunks, its bytes, and all its items."""

    def __init__(self, pack: Pack, folder: Path) -> None:
        """Record a flight."""
        recorded = RecordedDevice(pack, folder)
        recorded.send(0.0, push_approved=0.0)
        recorded.fly(12, since_s=1)
        recorded.request("remark", reason="before the end")
        recorded.recorder.finish()
        (self.path,) = recorded.read().paths
        self.data = self.path.read_bytes()
        self.items = recorded.items()


@pytest.fixture(scope="module")
def complete(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> CompleteRecording:
    """One recording for all tests of this module."""
    return CompleteRecording(pack, tmp_path_factory.mktemp("complete"))


def read(path: Path, data: bytes) -> tuple[list[RecordedItem[RecordedContent]], str]:
    """Read items and fault of these bytes; no other exception than ours may be raised."""
    path.write_bytes(data)
    try:
        recording = open_recording(path)
    except InputFaults as faults:
        return [], str(faults)
    items = list(recording.items())
    return items, str(recording.fault or "")


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_a_cut_file_is_read_up_to_the_cut(
    complete: CompleteRecording, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Any prefix of the file gives the items of its complete chunks and a fault, unless only the summary is missing."""
    length = data.draw(st.integers(0, len(complete.data) - 1))
    items, fault = read(tmp_path_factory.mktemp("cut") / "cut.mcap", complete.data[:length])
    assert items == complete.items[: len(items)]
    assert ("ends early" in fault or "before its head" in fault) or (
        length > len(complete.data) - 9 and items == complete.items
    )


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_a_damaged_file_gives_no_wrong_item(
    complete: CompleteRecording, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Changed bytes never give an item that was not recorded; items before the damage are read."""
    at = data.draw(st.integers(0, len(complete.data) - 1))
    generator = random.Random(at)
    damaged = bytearray(complete.data)
    for place in range(at, min(at + data.draw(st.sampled_from([1, 4, 900])), len(damaged))):
        damaged[place] ^= generator.randrange(1, 256)
    items, fault = read(tmp_path_factory.mktemp("damaged") / "damaged.mcap", bytes(damaged))
    assert [item.content for item in items] == [item.content for item in complete.items[: len(items)]]
    assert fault or len(items) == len(complete.items)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "this ends at byte 0, before its head"),
        (b"\x89MCAP0", "this ends at byte 6, before its head"),
        (b"fuel,total\n" * 50, "this is no MCAP file, expected a recording as `holdshort watch --data-dir`"),
    ],
)
def test_other_files_are_refused(tmp_path: Path, data: bytes, expected: str) -> None:
    """An empty file, a prefix of a recording, and another file have different faults."""
    path = tmp_path / "odd.mcap"
    path.write_bytes(data)
    with pytest.raises(InputFaults) as caught:
        open_recording(path)
    assert expected in str(caught.value)
    assert str(caught.value).startswith(str(path))


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """A missing file and a folder are faults like any other."""
    for path in (tmp_path / "nothing.mcap", tmp_path):
        with pytest.raises(InputFaults, match="cannot be read"):
            open_recording(path)


def _mcap_file(path: Path, profile: str, head: object) -> Path:
    """Write an MCAP file with one message."""
    with path.open("wb") as stream:
        writer = Writer(stream)
        writer.start(profile=profile, library="another")
        channel = writer.register_channel(HEAD, "json", 0)
        writer.add_message(channel, 1, encode_message(head), 1, sequence=1)
        writer.finish()  # type: ignore[no-untyped-call]
    return path


def test_other_programs_and_versions_are_refused(complete: CompleteRecording, tmp_path: Path) -> None:
    """Files of other programs, unknown format versions and broken heads are three different faults."""
    head = open_recording(complete.path).head
    newer = replace(head, format_version=head.format_version + 1)
    with pytest.raises(InputFaults, match="an MCAP file of another program"):
        open_recording(_mcap_file(tmp_path / "a.mcap", "other", head))
    with pytest.raises(InputFaults, match=r"format version 2, expected version 1\n.*use a newer holdshort"):
        open_recording(_mcap_file(tmp_path / "b.mcap", PROFILE, newer))
    with pytest.raises(InputFaults, match="head cannot be read"):
        open_recording(_mcap_file(tmp_path / "c.mcap", PROFILE, {"format_version": "one"}))


def test_unknown_events_are_returned_as_fields(tmp_path: Path, complete: CompleteRecording) -> None:
    """Events of a later version are returned with their fields, and reading continues."""
    path = tmp_path / "later.mcap"
    with path.open("wb") as stream:
        writer = Writer(stream)
        writer.start(profile=PROFILE)
        for topic, message in (
            (HEAD, open_recording(complete.path).head),
            ("/event/wind/measured", {"sim_s": 1.0, "kt": 12}),
            ("/event/notice", {"sim_s": 1.0}),
            ("/weather", {"kt": 12}),
            ("/tick", {"recv_s": 3.0}),
        ):
            channel = writer.register_channel(topic, "json", 0)
            writer.add_message(channel, 1, encode_message(message), 1, sequence=1)
        writer.finish()  # type: ignore[no-untyped-call]
    recording = open_recording(path)
    expected = [item.content for item in recording.items()]
    assert expected[0] == UnknownEvent("/event/wind/measured", {"sim_s": 1.0, "kt": 12})
    assert expected[1] == UnknownEvent("/event/notice", {"sim_s": 1.0})
    assert len(expected) == 3
    assert recording.fault is None


def test_an_invalid_message_ends_the_recording(tmp_path: Path, complete: CompleteRecording) -> None:
    """A frame whose bundle is missing is a fault of the recording, and nothing is raised."""
    path = tmp_path / "odd.mcap"
    with path.open("wb") as stream:
        writer = Writer(stream)
        writer.start(profile=PROFILE)
        for topic, message in (
            (HEAD, open_recording(complete.path).head),
            ("/tick", {"recv_s": 3.0}),
            ("/frame", {"sim_s": 0.0, "recv_s": 0.0, "epoch": 0, "bundle": 7}),
        ):
            channel = writer.register_channel(topic, "json", 0)
            writer.add_message(channel, 1, encode_message(message), 1, sequence=1)
        writer.finish()  # type: ignore[no-untyped-call]
    recording = open_recording(path)
    assert len(list(recording.items())) == 1
    assert "/frame cannot be read" in str(recording.fault)


def test_a_missing_part_is_a_fault(pack: Pack, tmp_path: Path) -> None:
    """A wrong part in the middle is a fault: messages are missing."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=12_000, min_free_bytes=0))
    recorded.fly(60)
    recorded.recorder.finish()
    paths = recorded.read().paths
    assert len(paths) > 3
    paths[2].replace(paths[1])
    paths[3].replace(paths[2])
    recording = recorded.read()
    items = list(recording.items())
    assert str(recording.fault).startswith(
        f"{paths[1]}: messages are missing after number {items[-1].sequence}"
    )


def test_a_limit_below_the_size_of_a_head_loses_nothing(pack: Pack, tmp_path: Path) -> None:
    """Each part has at least one message, also where the recorder writes while nothing comes."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=1000, min_free_bytes=0))
    for second in range(4):
        recorded.fly(1, since_s=second)
        recorded.recorder.write_queued()
        recorded.recorder.write_queued()
    recorded.recorder.finish()
    recording = recorded.read()
    frames = [item.content for item in recording.items() if isinstance(item.content, Frame)]
    assert [frame.sim_s for frame in frames] == [0, 1, 2, 3]
    assert recording.fault is None


def _with_a_cut_part(
    pack: Pack, folder: Path, part: int, end: int
) -> tuple[Recording, list[RecordedItem[RecordedContent]]]:
    """Give a recording of which a part has only its bytes up to `end`, and what it contained before."""
    recorded = RecordedDevice(pack, folder, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    recorded.fly(60)
    recorded.recorder.finish()
    everything = recorded.items()
    path = recorded.read().paths[part]
    path.write_bytes(path.read_bytes()[:end])
    return recorded.read(), everything


def test_a_cut_part_ends_the_recording(pack: Pack, tmp_path: Path) -> None:
    """Parts before the cut are read; later ones are not, since they build on missing frames."""
    recording, everything = _with_a_cut_part(pack, tmp_path, 1, 6_000)
    items = list(recording.items())
    assert str(recording.fault).startswith(f"{recording.paths[2]}: messages are missing after number ")
    assert 0 < len(items) < len(everything)
    assert [item.sequence for item in items] == [item.sequence for item in everything[: len(items)]]


def test_a_part_without_its_end_is_complete_where_the_next_one_continues(pack: Pack, tmp_path: Path) -> None:
    """A part that lost only its summary is no fault while another part follows; without one the recording breaks off."""
    recording, everything = _with_a_cut_part(pack, tmp_path, 1, -500)
    assert list(recording.items()) == everything
    assert (recording.fault, recording.running) == (None, False)
    for later in recording.paths[2:]:
        later.unlink()
    alone = open_recording(recording.paths[0])
    list(alone.items())
    assert "the recording ends early" in str(alone.fault)


def test_a_recording_that_is_written_has_no_end_yet(pack: Pack, tmp_path: Path) -> None:
    """While its writer holds it, the session runs, also where the file was not touched for long; a copy breaks off."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(10)
    recording = recorded.read()
    os.utime(recording.paths[0], (0, 0))
    list(recording.items())
    assert (recording.running, "the session still runs" in str(recording.fault)) == (True, True)
    copied = tmp_path / "copied.mcap"
    copied.write_bytes(recording.paths[0].read_bytes())
    copy = open_recording(copied)
    list(copy.items())
    assert (copy.running, "the recording ends early" in str(copy.fault)) == (False, True)
    recorded.recorder.finish()
    list(recording.items())
    assert (recording.running, recording.fault) == (False, None)


def test_a_part_that_follows_while_the_recording_is_read_is_read_too(pack: Pack, tmp_path: Path) -> None:
    """A reader that opened the recording when it had fewer parts reads all of them, and sees that it still runs."""
    recorded = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    recorded.fly(5)
    recording = recorded.read()
    parts_before = len(recording.paths)
    recorded.fly(60, since_s=5)
    frames = [item.content.sim_s for item in recording.items() if isinstance(item.content, Frame)]
    assert (parts_before, len(recording.paths) > 2, recording.running) == (1, True, True)
    assert frames == [float(second) for second in range(65)]
    recorded.recorder.finish()


def test_reading_twice_gives_the_same(complete: CompleteRecording) -> None:
    """A recording can be read any number of times."""
    recording: Recording = open_recording(complete.path)
    assert list(recording.items()) == list(recording.items()) == complete.items
    assert msgspec.json.decode(next(recording.messages()).data)["format_version"] == 1
