"""Tests of the mapper: carried signals, changes and calls of a frame."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from adapters.decoders.base import DecodedRecord, RawValue
from adapters.mapping.map_plan import FieldMapping, FieldSource, MapPlan, ValidityRule
from adapters.mapping.mapper import Mapper
from rules.signals.book import load_book
from rules.signals.model import Frame, Quality, Sample, Value
from rules.signals.state import SignalState

SIGNALS = load_book("twin_jet").signals
FEW = ("lights.beacon", "fuel.total", "gear.lever", "flight.heading")


def frame_of(mapper: Mapper, fields: dict[str, Any], sim_s: float = 0.0, epoch: int = 0) -> Frame:
    """Build the frame of one record."""
    decoded = DecodedRecord(tuple(fields), list(fields.values()))
    return mapper.build_frame(decoded, mapper.layout_for(decoded.names), sim_s, sim_s, epoch)


def test_fields_with_the_names_of_signals_need_no_map() -> None:
    """Without a map file, a field with a signal's name feeds it, in the book's units and words."""
    frame = frame_of(
        Mapper(SIGNALS, link="a"), {"lights.beacon": 1, "fuel.total": 8200.0, "gear.lever": "down"}, 3.0
    )
    assert frame.changes == [
        Sample("lights.beacon", "on", Quality.FRESH, 3.0),
        Sample("fuel.total", 8200.0, Quality.FRESH, 3.0),
        Sample("gear.lever", "down", Quality.FRESH, 3.0),
    ]
    assert frame.carried == ("lights.beacon", "fuel.total", "gear.lever")
    assert (frame.link, frame.sim_s, frame.epoch) == ("a", 3.0, 0)


def test_only_different_values_are_changes() -> None:
    """A repeated value is carried and is no change; the tuple of carried names is the same object."""
    mapper = Mapper(SIGNALS)
    first = frame_of(mapper, {"lights.beacon": 1, "fuel.total": 8200.0})
    second = frame_of(mapper, {"lights.beacon": True, "fuel.total": 8100.0})
    assert [sample.name for sample in second.changes] == ["fuel.total"]
    assert second.carried is first.carried


def test_a_change_from_false_to_0_is_a_change() -> None:
    """A numeric signal refuses false and accepts 0, although Python compares them as equal."""
    mapper = Mapper(SIGNALS)
    assert frame_of(mapper, {"fuel.total": False}).changes[0].quality is Quality.INVALID
    assert [sample.value for sample in frame_of(mapper, {"fuel.total": 0}).changes] == [0.0]


def test_an_invalid_value_is_one_change_and_is_counted() -> None:
    """Invalid values become invalid samples with an example; the same value again is no new change."""
    mapper = Mapper(SIGNALS)
    frame = frame_of(mapper, {"lights.beacon": "purple", "fuel.total": None, "gear.lever": "down"})
    assert [(sample.name, sample.quality) for sample in frame.changes][:2] == [
        ("lights.beacon", Quality.INVALID),
        ("fuel.total", Quality.INVALID),
    ]
    assert (
        frame_of(mapper, {"lights.beacon": "green", "fuel.total": None, "gear.lever": "down"}).changes == []
    )
    assert (mapper.counts.invalid, mapper.counts.unknown_words) == (1, 1)
    assert mapper.counts.examples == {"lights.beacon": "'purple'", "fuel.total": "no value"}


def test_unknown_fields_are_counted_and_ignored() -> None:
    """Fields without a signal are listed by name, up to a limit, and the others are used."""
    mapper = Mapper(SIGNALS)
    assert frame_of(mapper, {"what.is.this": 1, "fuel.total": 1.0, "time": 3.0}).carried == ("fuel.total",)
    assert list(mapper.counts.unknown_fields) == ["what.is.this"]
    for number in range(100):
        frame_of(mapper, {f"strange.{number}": 1})
    assert len(mapper.counts.unknown_fields) == 40
    assert mapper.counts.more_unknown_fields == 61


def test_two_alternating_layouts_lose_no_change() -> None:
    """A sender may split its state over two kinds of datagram, with a signal in both."""
    mapper = Mapper(SIGNALS)
    frame_of(mapper, {"fuel.total": 1.0, "lights.beacon": 0})
    frame_of(mapper, {"fuel.total": 2.0, "gear.lever": "up"})
    frame = frame_of(mapper, {"fuel.total": 1.0, "lights.beacon": 0})
    assert [(sample.name, sample.value) for sample in frame.changes] == [("fuel.total", 1.0)]


def test_mark_all_changed_puts_everything_into_the_next_frame() -> None:
    """After `mark_all_changed` the next frame has every value."""
    mapper = Mapper(SIGNALS)
    frame_of(mapper, {"fuel.total": 1.0, "lights.beacon": 0})
    mapper.mark_all_changed()
    assert len(frame_of(mapper, {"fuel.total": 1.0, "lights.beacon": 0}).changes) == 2


def test_each_time_of_a_call_is_one_call() -> None:
    """A repeated time of a call is one call, a new time is a new call, and several calls keep their order."""
    mapper = Mapper(SIGNALS)
    assert frame_of(mapper, {"call.b": 2.0, "call.a": 1.0, "call.c": None}, 5.0).calls == ("a", "b")
    assert frame_of(mapper, {"call.b": 2.0, "call.a": 1.0, "call.c": None}, 5.1).calls == ()
    assert frame_of(mapper, {"call.b": 5.2, "call.a": 1.0, "call.c": 5.15}, 5.2).calls == ("c", "b")


def test_a_call_from_before_a_reset_is_ignored() -> None:
    """After a reset of the clock, a call whose time is in the future is an old one."""
    mapper = Mapper(SIGNALS)
    frame_of(mapper, {"call.a": 100.0}, 101.0)
    mapper.reset()
    assert frame_of(mapper, {"call.a": 100.0}, 0.0, 1).calls == ()
    assert frame_of(mapper, {"call.a": 0.5}, 0.5, 1).calls == ("a",)


def test_positions_and_bits_feed_several_signals() -> None:
    """A column can be bound by position, and can feed several signals."""
    plan = MapPlan(
        (
            FieldMapping("lights.beacon", FieldSource(position=2, bit=0)),
            FieldMapping("lights.strobe", FieldSource(position=2, bit=3)),
        ),
        same_names=False,
    )
    mapper = Mapper(SIGNALS, plan)
    frame = frame_of(mapper, {"": 0.0, "other": 8.0})
    assert [(sample.name, sample.value) for sample in frame.changes] == [
        ("lights.beacon", "off"),
        ("lights.strobe", "on"),
    ]


def test_a_change_of_the_validity_column_is_a_change() -> None:
    """A signal becomes invalid and valid again with its validity field, while its own field is constant."""
    plan = MapPlan(
        (FieldMapping("fuel.total", FieldSource("fuel"), validity=ValidityRule(FieldSource("ok"))),),
        same_names=False,
    )
    mapper = Mapper(SIGNALS, plan)
    qualities = [
        [sample.quality for sample in frame_of(mapper, {"fuel": 5.0, "ok": ok}).changes]
        for ok in (1, 0, 0, 1, None)
    ]
    assert qualities == [[Quality.FRESH], [Quality.INVALID], [], [Quality.FRESH], [Quality.INVALID]]


def test_a_validity_field_that_is_not_sent_means_invalid() -> None:
    """A value whose validity field is missing is invalid, and the missing field is named."""
    plan = MapPlan(
        (FieldMapping("fuel.total", FieldSource("fuel"), validity=ValidityRule(FieldSource("ok"))),)
    )
    mapper = Mapper(SIGNALS, plan)
    assert frame_of(mapper, {"fuel": 5.0}).changes[0].quality is Quality.INVALID
    assert mapper.layout_for(("fuel",)).missing == ("ok",)


RAWS = st.one_of(
    st.none(), st.booleans(), st.integers(-2, 3), st.floats(0, 400), st.sampled_from(["on", "off", "up", "x"])
)


@given(st.lists(st.dictionaries(st.sampled_from(FEW), RAWS), max_size=12))
def test_changes_add_up_to_the_whole_state(records: list[dict[str, RawValue]]) -> None:
    """Folding the changes of one mapper gives the same state as folding complete frames."""
    mapper, folded, complete = Mapper(SIGNALS), SignalState(SIGNALS), SignalState(SIGNALS)
    for at, record in enumerate(records):
        folded.fold(frame_of(mapper, record, float(at)))
        complete.fold(frame_of(Mapper(SIGNALS), record, float(at)))
        assert values(folded) == values(complete)


def values(state: SignalState) -> dict[str, tuple[Value | None, Quality]]:
    """Give value and quality of the few signals."""
    return {name: (state.sample(name).value, state.sample(name).quality) for name in FEW}
