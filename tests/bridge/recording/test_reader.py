"""Tests of the reader: what is no recording is told, and what was cut is read as far as it goes, wherever it was cut."""

from __future__ import annotations

import random
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mcap.writer import Writer
from msgspec.structs import replace

from bridge.recording.file_format import HEAD, PROFILE, encode_message
from bridge.recording.reader import RecordedItem, Recording, UnknownEvent, open_recording
from bridge.recording.writer import RecordingLimits
from rules.faults import InputFaults
from rules.packs.model import Pack
from tests.bridge.recording.builders import RecordedDevice


class CompleteRecording:
    """A recording of some chunks, its bytes, and all its lines."""

    def __init__(self, pack: Pack, folder: Path) -> None:
        """Record it."""
        booth = RecordedDevice(pack, folder)
        booth.send(0.0, push_approved=0.0)
        booth.fly(12, since_s=1)
        booth.request("remark", reason="before the end")
        booth.recorder.finish()
        (self.path,) = booth.read().paths
        self.data = self.path.read_bytes()
        self.lines = booth.items()


@pytest.fixture(scope="module")
def whole(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> CompleteRecording:
    """One recording for all tests here."""
    return CompleteRecording(pack, tmp_path_factory.mktemp("whole"))


def read(path: Path, data: bytes) -> tuple[list[RecordedItem], str]:
    """What can be read of these bytes, and the fault; only our own fault may be raised."""
    path.write_bytes(data)
    try:
        recording = open_recording(path)
    except InputFaults as faults:
        return [], str(faults)
    lines = list(recording.items())
    return lines, str(recording.fault or "")


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_cut_anywhere_a_prefix_is_read(
    whole: CompleteRecording, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Of any beginning of the file the lines of its whole chunks come, and it is said that it breaks off, unless only the summary is missing."""
    length = data.draw(st.integers(0, len(whole.data) - 1))
    lines, fault = read(tmp_path_factory.mktemp("cut") / "cut.mcap", whole.data[:length])
    assert lines == whole.lines[: len(lines)]
    assert "breaks off" in fault or (length > len(whole.data) - 9 and lines == whole.lines)


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_damaged_anywhere_nothing_wrong_is_read(
    whole: CompleteRecording, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Bytes that were changed never give a line that was not recorded; what comes before them is read."""
    at = data.draw(st.integers(0, len(whole.data) - 1))
    chance = random.Random(at)
    damaged = bytearray(whole.data)
    for place in range(at, min(at + data.draw(st.sampled_from([1, 4, 900])), len(damaged))):
        damaged[place] ^= chance.randrange(1, 256)
    lines, fault = read(tmp_path_factory.mktemp("damaged") / "damaged.mcap", bytes(damaged))
    assert [line.content for line in lines] == [line.content for line in whole.lines[: len(lines)]]
    assert fault or len(lines) == len(whole.lines)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "breaks off at byte 0, before its head"),
        (b"\x89MCAP0", "breaks off at byte 6, before its head"),
        (b"fuel,total\n" * 50, "this is no MCAP file, expected a recording as `holdshort watch --keep`"),
    ],
)
def test_what_is_no_recording_is_told(tmp_path: Path, data: bytes, said: str) -> None:
    """An empty file, a beginning of one, and any other file are three different things."""
    path = tmp_path / "odd.mcap"
    path.write_bytes(data)
    with pytest.raises(InputFaults) as caught:
        open_recording(path)
    assert said in str(caught.value)
    assert str(caught.value).startswith(str(path))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    """A missing file and a folder are faults like any other."""
    for path in (tmp_path / "nothing.mcap", tmp_path):
        with pytest.raises(InputFaults, match="cannot be read"):
            open_recording(path)


def _made(path: Path, profile: str, head: object) -> Path:
    """An MCAP file with one message."""
    with path.open("wb") as stream:
        writer = Writer(stream)
        writer.start(profile=profile, library="another")
        channel = writer.register_channel(HEAD, "json", 0)
        writer.add_message(channel, 1, encode_message(head), 1, sequence=1)
        writer.finish()  # type: ignore[no-untyped-call]
    return path


def test_a_file_of_another_program_and_of_a_newer_form(whole: CompleteRecording, tmp_path: Path) -> None:
    """MCAP files of others, forms that are not known yet, and heads that say nothing are told apart."""
    head = open_recording(whole.path).head
    newer = replace(head, format_version=head.format_version + 1)
    with pytest.raises(InputFaults, match="an MCAP file of another program"):
        open_recording(_made(tmp_path / "a.mcap", "other", head))
    with pytest.raises(InputFaults, match=r"of form 2, expected form 1\n.*a newer holdshort reads it"):
        open_recording(_made(tmp_path / "b.mcap", PROFILE, newer))
    with pytest.raises(InputFaults, match="head cannot be read"):
        open_recording(_made(tmp_path / "c.mcap", PROFILE, {"format_version": "one"}))


def test_an_entry_of_a_kind_that_is_not_known_is_given_as_it_is(
    tmp_path: Path, whole: CompleteRecording
) -> None:
    """A recording of a later program may have further entries: their fields are read, and the rest goes on."""
    path = tmp_path / "later.mcap"
    with path.open("wb") as stream:
        writer = Writer(stream)
        writer.start(profile=PROFILE)
        for topic, message in (
            (HEAD, open_recording(whole.path).head),
            ("/event/wind/felt", {"sim_s": 1.0, "kt": 12}),
            ("/event/notice", {"sim_s": 1.0}),
            ("/weather", {"kt": 12}),
            ("/tick", {"recv_s": 3.0}),
        ):
            channel = writer.register_channel(topic, "json", 0)
            writer.add_message(channel, 1, encode_message(message), 1, sequence=1)
        writer.finish()  # type: ignore[no-untyped-call]
    recording = open_recording(path)
    said = [line.content for line in recording.items()]
    assert said[0] == UnknownEvent("/event/wind/felt", {"sim_s": 1.0, "kt": 12})
    assert said[1] == UnknownEvent("/event/notice", {"sim_s": 1.0})
    assert len(said) == 3
    assert recording.fault is None


def test_a_message_that_cannot_be_understood_ends_the_reading(
    tmp_path: Path, whole: CompleteRecording
) -> None:
    """A frame of names that were never told is a fault of the recording, and nothing is raised."""
    path = tmp_path / "odd.mcap"
    with path.open("wb") as stream:
        writer = Writer(stream)
        writer.start(profile=PROFILE)
        for topic, message in (
            (HEAD, open_recording(whole.path).head),
            ("/tick", {"recv_s": 3.0}),
            ("/frame", {"sim_s": 0.0, "recv_s": 0.0, "epoch": 0, "bundle": 7}),
        ):
            channel = writer.register_channel(topic, "json", 0)
            writer.add_message(channel, 1, encode_message(message), 1, sequence=1)
        writer.finish()  # type: ignore[no-untyped-call]
    recording = open_recording(path)
    assert len(list(recording.items())) == 1
    assert "/frame cannot be read" in str(recording.fault)


def test_a_part_that_was_removed_is_missed(pack: Pack, tmp_path: Path) -> None:
    """Where a part in the middle is another recording's, or chunks are gone, messages are missing, and that is said."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    booth.fly(60)
    booth.recorder.finish()
    paths = booth.read().paths
    assert len(paths) > 3
    paths[2].replace(paths[1])
    paths[3].replace(paths[2])
    recording = booth.read()
    lines = list(recording.items())
    assert str(recording.fault).startswith(
        f"{paths[1]}: messages are missing after number {lines[-1].sequence}"
    )


def test_a_part_that_is_cut_ends_the_reading_there(pack: Pack, tmp_path: Path) -> None:
    """Of several parts those before the cut are read; what follows it is not, since it builds on what is missing."""
    booth = RecordedDevice(pack, tmp_path, RecordingLimits(part_bytes=9000, min_free_bytes=0))
    booth.fly(60)
    booth.recorder.finish()
    everything = booth.items()
    second = booth.read().paths[1]
    second.write_bytes(second.read_bytes()[:-2000])
    recording = booth.read()
    lines = list(recording.items())
    assert str(recording.fault).startswith(f"{second}: the recording breaks off")
    assert 0 < len(lines) < len(everything)
    assert [line.sequence for line in lines] == [line.sequence for line in everything[: len(lines)]]


def test_reading_twice_gives_the_same(whole: CompleteRecording) -> None:
    """A recording may be read as often as one likes."""
    recording: Recording = open_recording(whole.path)
    assert list(recording.items()) == list(recording.items()) == whole.lines
    assert msgspec.json.decode(next(recording.messages()).data)["format_version"] == 1
