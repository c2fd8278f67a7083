"""Tests of the recording format: every message is read back unchanged, and its schema describes it."""

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
def test_every_event_is_read_back_unchanged(topic: str, data: st.DataObject) -> None:
    """Decoding an encoded event gives an equal event."""
    kind = EVENT_TYPES[topic]
    event = data.draw(st.from_type(kind))
    assert msgspec.json.decode(encode_message(event), type=kind) == event


@pytest.mark.parametrize("topic", CHANNELS)
def test_every_channel_has_a_schema_with_an_object_at_its_root(topic: str) -> None:
    """The schema is an object with the fields of the message."""
    schema: dict[str, Any] = json.loads(json_schema_of(CHANNELS[topic]))
    assert schema["type"] == "object"
    assert list(schema["properties"]) == list(CHANNELS[topic].__struct_encode_fields__)


@pytest.mark.parametrize("topic", CHANNELS)
def test_no_schema_names_a_class(topic: str) -> None:
    """A schema contains no class names, so that classes can be renamed."""
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
    """Draw mostly what a link sends: fresh or invalid now; sometimes an unusual sample."""
    quality = draw(st.sampled_from([Quality.FRESH, Quality.FRESH, Quality.INVALID, Quality.STALE]))
    value: Value | None = None if quality is Quality.INVALID else draw(VALUES)
    return Sample(draw(st.sampled_from(NAMES)), value, quality, draw(st.sampled_from([5.0, 5.0, 5.0, 4.5])))


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    """Draw frames of two links and several bundles."""
    return Frame(
        draw(st.sampled_from(["udp a", "udp b"])),
        5.0,
        draw(NUMBERS),
        draw(st.integers(0, 3)),
        draw(st.sampled_from([NAMES, NAMES[:2], ()])),
        draw(st.lists(samples(), max_size=5)),
        draw(st.sampled_from([(), ("push_approved",)])),
        draw(st.sampled_from([None, None, 3.2])),
    )


@given(st.lists(frames(), max_size=8))
def test_frames_are_read_back_unchanged(drawn: list[Frame]) -> None:
    """Frames of any link, bundle and value type are read back unchanged; each bundle is written once."""
    encoder, decoder, numbers = FrameEncoder(), FrameDecoder(), list[int]()
    for frame in drawn:
        bundle, message = encoder.encode(frame)
        if bundle is not None:
            numbers.append(bundle.number)
            decoder.add_bundle(bundle)
        back = decoder.decode(msgspec.json.decode(encode_message(message), type=type(message)))
        assert back == frame
        assert [type(sample.value) for sample in back.changes] == [type(s.value) for s in frame.changes]
    assert numbers == list(range(len(numbers)))


def test_nan_is_read_back_as_invalid() -> None:
    """JSON has no NaN; like in the signal state it becomes invalid."""
    frame = Frame("", 5.0, 1.0, 0, NAMES, [Sample("engine.1.n2", float("nan"), Quality.FRESH, 5.0)])
    bundle, message = FrameEncoder().encode(frame)
    decoder = FrameDecoder()
    assert bundle is not None
    decoder.add_bundle(bundle)
    back = decoder.decode(msgspec.json.decode(encode_message(message), type=type(message)))
    assert back.changes == [Sample("engine.1.n2", None, Quality.INVALID, 5.0)]


def test_an_unpaired_surrogate_is_replaced() -> None:
    """An unpaired surrogate is replaced by `?`."""
    sample: FullSample = ("trip.runway", "14\udc80", Quality.FRESH, 0.0)
    assert json.loads(encode_message({"text": "14\udc80", "sample": sample}))["text"] == "14?"


@given(st.lists(frames(), min_size=1, max_size=8))
def test_a_keyframe_has_the_latest_values(drawn: list[Frame]) -> None:
    """A keyframe contains the latest value of every name of the present epoch; as a frame it carries each of them."""
    fold = KeyframeBuilder()
    for frame in drawn:
        fold.add_frame(frame)
    keyframe = fold.keyframe()
    rebuilt = KeyframeBuilder()
    rebuilt.add_frame(keyframe_to_frame(keyframe, "", ()))
    assert rebuilt.keyframe() == keyframe
    since = max((at for at in range(1, len(drawn)) if drawn[at].epoch != drawn[at - 1].epoch), default=0)
    latest = {s.name: s for frame in drawn[since:] for s in frame.changes}
    assert keyframe.values.keys() == latest.keys()
    for name, sample in latest.items():
        if sample.quality is not Quality.FRESH:
            assert keyframe.values[name] is None
        elif is_plain_value(sample.value):
            assert keyframe.values[name] == sample.value
