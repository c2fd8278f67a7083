"""Tests of bridge.outputs.notifiers.envelope: the message format, kinds, levels and numbers."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import get_args

import msgpack
import msgspec
import pytest

from bridge.outputs.notifiers.envelope import EnvelopeBuilder, kind_matches, to_plain_data
from bridge.session.session_events import KINDS, RemarkAdded, SessionChange
from rules.judge.events import FindingOpened, GateCued, JudgeEvent, Notice, PhaseEntered
from rules.packs.model import Level
from tests.bridge.outputs.notifiers.sample_messages import envelope_builder, envelopes, finding, notice


class Colour(StrEnum):
    """A sample enumeration."""

    RED = "red"


@dataclass(frozen=True, slots=True)
class NewKindOfEvent:
    """An event of a kind that the program does not have."""

    sim_s: float
    colour: Colour
    values: tuple[float | None, ...]
    inner: PhaseEntered
    table: dict[int, float]


def test_a_message_has_the_documented_format() -> None:
    """A notice has its number, both times, its kind, and its own fields."""
    (message,) = envelopes(notice(3))
    assert message.as_dict() == {
        "format_version": 1, "device": "cab_1", "session": "s1", "sequence": 1, "utc": "2026-11-25T04:15:00.123Z",
        "sim_s": 723.4, "kind": "notice",
        "body": {
            "sim_s": 723.4, "level": "caution", "seat": "first_officer", "item": "flow.before_start.beacon",
            "gate": "push", "sentence": "Before push back: beacon is off.", "repeats": 0, "finding": 3,
            "lead_in": "before_gate", "reasons": ["beacon is off"],
        },
    }  # fmt: skip


def types_without_subclasses(base: type) -> Iterator[type]:
    """The types below a base that are made: those between it and them only hold fields."""
    subclasses: list[type] = base.__subclasses__()
    for subclass in subclasses:
        if subclass.__subclasses__():
            yield from types_without_subclasses(subclass)
        else:
            yield subclass


def test_every_type_of_event_has_its_own_kind() -> None:
    """Kinds are unique, and they are selected by whole words."""
    assert [KINDS[kind] for kind in (Notice, FindingOpened, GateCued)] == [
        "notice", "finding/opened", "gate/cued",
    ]  # fmt: skip
    assert set(KINDS) == {*get_args(JudgeEvent), *types_without_subclasses(SessionChange), RemarkAdded}
    assert len(set(KINDS.values())) == len(KINDS)
    assert not kind_matches("callout", ("call",))
    assert kind_matches("call/entered", ("call",))
    assert kind_matches("call/entered", ("gate", "call/entered"))


def test_an_event_of_a_new_kind_can_be_encoded() -> None:
    """It becomes words, lists, None for NaN and infinity and text keys; JSON and MessagePack return it unchanged."""
    event = NewKindOfEvent(
        2.0, Colour.RED, (1.5, None, math.nan, math.inf), PhaseEntered(1.0, "taxi", ""), {1: -math.inf}
    )
    (like,) = envelopes(notice())
    message = replace(like, body=to_plain_data(event))
    assert message.body == {
        "sim_s": 2.0, "colour": "red", "values": [1.5, None, None, None],
        "inner": {"sim_s": 1.0, "phase": "taxi", "previous_phase": ""}, "table": {"1": None},
    }  # fmt: skip
    fields = message.as_dict()
    assert json.loads(msgspec.json.encode(fields)) == fields
    assert msgpack.unpackb(msgpack.packb(fields)) == fields


def test_an_unpaired_surrogate_becomes_a_question_mark() -> None:
    """A text that cannot be encoded loses only its surrogate."""
    assert to_plain_data(notice(sentence="é \ud800 ü"))["sentence"] == "é ? ü"


def test_the_level_is_its_own_or_its_findings() -> None:
    """An event without a level and without a finding has none."""
    messages = envelopes(
        notice(level=Level.ADVISORY), FindingOpened(5.0, finding()), PhaseEntered(0.0, "taxi", "")
    )
    assert [message.level for message in messages] == ["advisory", "warning", ""]


def test_numbers_count_from_one_in_each_session() -> None:
    """Another session has another id; keys are unique."""
    build = envelope_builder()
    first = [build(notice()), build(notice())]
    build.begin_session()
    second = [build(notice()), build(notice())]
    assert [message.sequence for message in (*first, *second)] == [1, 2, 1, 2]
    assert first[0].session == first[1].session != second[0].session == second[1].session
    assert len({message.key for message in (*first, *second)}) == 4


@pytest.mark.parametrize("name", ["", "a/b", "cab 1", "x" * 41, "größe"])
def test_a_device_that_cannot_be_part_of_a_topic_is_refused(name: str) -> None:
    """The error names the characters that are allowed."""
    with pytest.raises(ValueError, match="expected letters, digits"):
        EnvelopeBuilder(name)
