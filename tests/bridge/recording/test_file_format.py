"""Tests of the form of a recording: every message is read back as it was, and its schema describes it."""

from __future__ import annotations

import json
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.recording.file_format import (
    CHANNELS,
    EVENT_TYPES,
    FullSample,
    encode_message,
    is_plain_value,
    json_schema_of,
)
from bridge.recording.frame_codec import FrameDecoder, FrameEncoder, KeyframeBuilder, keyframe_to_frame
from rules.signals.model import Frame, Quality, Sample, Value

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
st.register_type_strategy(float, NUMBERS)


@pytest.mark.parametrize("topic", EVENT_TYPES)
@given(data=st.data())
@settings(max_examples=20, deadline=None)
def test_every_entry_and_note_is_read_back_as_it_was(topic: str, data: st.DataObject) -> None:
    """Whatever an entry or note says, its message gives an equal one."""
    kind = EVENT_TYPES[topic]
    entry = data.draw(st.from_type(kind))
    assert msgspec.json.decode(encode_message(entry), type=kind) == entry


@pytest.mark.parametrize("topic", CHANNELS)
def test_every_channel_has_a_schema_with_an_object_at_its_root(topic: str) -> None:
    """Readers of recordings want an object; it names the fields that a message has."""
    schema: dict[str, Any] = json.loads(json_schema_of(CHANNELS[topic]))
    assert schema["type"] == "object"
    assert list(schema["properties"]) == list(CHANNELS[topic].__struct_encode_fields__)


@pytest.mark.parametrize("topic", CHANNELS)
def test_no_schema_names_a_class(topic: str) -> None:
    """Every part stands in its place, so that a class may be called otherwise."""
    schema = json_schema_of(CHANNELS[topic])
    assert b"$ref" not in schema
    assert b"$defs" not in schema
    assert b'"title":"' not in schema


NAMES = ("engine.1.n2", "lights.beacon", "flight.altitude", "trip.runway")
VALUES: st.SearchStrategy[Value] = st.one_of(
    NUMBERS, st.text(max_size=5), st.integers(-9, 9), st.sampled_from([1.0, "on"])
)


@st.composite
def samples(draw: st.DrawFn) -> Sample:
    """Nearly always what a link says: fresh now, or invalid; now and then something odd."""
    quality = draw(st.sampled_from([Quality.FRESH, Quality.FRESH, Quality.INVALID, Quality.STALE]))
    value: Value | None = None if quality is Quality.INVALID else draw(VALUES)
    return Sample(draw(st.sampled_from(NAMES)), value, quality, draw(st.sampled_from([5.0, 5.0, 5.0, 4.5])))


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    """Frames of two links and some bundles."""
    return Frame(
        draw(st.sampled_from(["udp a", "udp b"])),
        5.0,
        draw(NUMBERS),
        draw(st.integers(0, 3)),
        draw(st.sampled_from([NAMES, NAMES[:2], ()])),
        draw(st.lists(samples(), max_size=5)),
        draw(st.sampled_from([(), ("push_approved",)])),
    )


@given(st.lists(frames(), max_size=8))
def test_frames_are_read_back_as_they_were(made: list[Frame]) -> None:
    """Frames of any links, bundles and oddities, and the types of their values, come back; a bundle is told once."""
    packer, unpacker, told = FrameEncoder(), FrameDecoder(), list[int]()
    for frame in made:
        bundle, form = packer.encode(frame)
        if bundle is not None:
            told.append(bundle.number)
            unpacker.add_bundle(bundle)
        back = unpacker.decode(msgspec.json.decode(encode_message(form), type=type(form)))
        assert back == frame
        assert [type(sample.value) for sample in back.changes] == [type(s.value) for s in frame.changes]
    assert told == list(range(len(told)))


def test_a_number_that_is_none_comes_back_as_invalid() -> None:
    """JSON has no word for NaN, and the state takes it as invalid anyway."""
    frame = Frame("", 5.0, 1.0, 0, NAMES, [Sample("engine.1.n2", float("nan"), Quality.FRESH, 5.0)])
    bundle, form = FrameEncoder().encode(frame)
    unpacker = FrameDecoder()
    assert bundle is not None
    unpacker.add_bundle(bundle)
    back = unpacker.decode(msgspec.json.decode(encode_message(form), type=type(form)))
    assert back.changes == [Sample("engine.1.n2", None, Quality.INVALID, 5.0)]


def test_half_a_character_does_not_stop_a_recording() -> None:
    """A text that no file can hold is written with `?` in the place of what is broken."""
    odd: FullSample = ("trip.runway", "14\udc80", Quality.FRESH, 0.0)
    assert json.loads(encode_message({"text": "14\udc80", "odd": odd}))["text"] == "14?"


@given(st.lists(frames(), min_size=1, max_size=8))
def test_a_picture_says_what_all_frames_said(made: list[Frame]) -> None:
    """A picture holds the latest value of every name of the present epoch; as a frame it says each of them."""
    fold = KeyframeBuilder()
    for frame in made:
        fold.add_frame(frame)
    picture = fold.keyframe()
    again = KeyframeBuilder()
    again.add_frame(keyframe_to_frame(picture, "", ()))
    assert again.keyframe() == picture
    since = max((at for at in range(1, len(made)) if made[at].epoch != made[at - 1].epoch), default=0)
    latest = {s.name: s for frame in made[since:] for s in frame.changes}
    assert picture.values.keys() == latest.keys()
    for name, sample in latest.items():
        if sample.quality is not Quality.FRESH:
            assert picture.values[name] is None
        elif is_plain_value(sample.value):
            assert picture.values[name] == sample.value
