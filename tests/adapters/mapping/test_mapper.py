"""Fields become frames: what is carried, what changed, which calls were made."""

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


def take(mapper: Mapper, fields: dict[str, Any], sim_s: float = 0.0, epoch: int = 0) -> Frame:
    """The frame of one record."""
    decoded = DecodedRecord(tuple(fields), list(fields.values()))
    return mapper.build_frame(decoded, mapper.layout_for(decoded.names), sim_s, sim_s, epoch)


def test_names_alone_are_a_map() -> None:
    """Without a map file, fields that bear a signal's name feed it, with the book's units and words."""
    frame = take(
        Mapper(SIGNALS, link="a"), {"lights.beacon": 1, "fuel.total": 8200.0, "gear.lever": "down"}, 3.0
    )
    assert frame.changes == [
        Sample("lights.beacon", "on", Quality.FRESH, 3.0),
        Sample("fuel.total", 8200.0, Quality.FRESH, 3.0),
        Sample("gear.lever", "down", Quality.FRESH, 3.0),
    ]
    assert frame.carried == ("lights.beacon", "fuel.total", "gear.lever")
    assert (frame.link, frame.sim_s, frame.epoch) == ("a", 3.0, 0)


def test_only_what_differs_is_a_change() -> None:
    """A value said again is carried and is no change; the tuple of carried names is the same object."""
    mapper = Mapper(SIGNALS)
    first = take(mapper, {"lights.beacon": 1, "fuel.total": 8200.0})
    second = take(mapper, {"lights.beacon": True, "fuel.total": 8100.0})
    assert [sample.name for sample in second.changes] == ["fuel.total"]
    assert second.carried is first.carried


def test_what_cannot_be_is_invalid_once_and_counted() -> None:
    """Bad values become invalid samples with an example kept, and the same bad value again is no new change."""
    mapper = Mapper(SIGNALS)
    frame = take(mapper, {"lights.beacon": "purple", "fuel.total": None, "gear.lever": "down"})
    assert [(sample.name, sample.quality) for sample in frame.changes][:2] == [
        ("lights.beacon", Quality.INVALID),
        ("fuel.total", Quality.INVALID),
    ]
    assert take(mapper, {"lights.beacon": "green", "fuel.total": None, "gear.lever": "down"}).changes == []
    assert (mapper.counts.invalid, mapper.counts.unknown_words) == (1, 1)
    assert mapper.counts.examples == {"lights.beacon": "'purple'", "fuel.total": "no value"}


def test_unknown_fields_are_noted_and_do_no_harm() -> None:
    """Fields of no signal are counted by name, with a bound, and the others are used."""
    mapper = Mapper(SIGNALS)
    assert take(mapper, {"what.is.this": 1, "fuel.total": 1.0, "time": 3.0}).carried == ("fuel.total",)
    assert list(mapper.counts.unknown_fields) == ["what.is.this"]
    for number in range(100):
        take(mapper, {f"strange.{number}": 1})
    assert len(mapper.counts.unknown_fields) == 40
    assert mapper.counts.more_unknown_fields == 61


def test_two_layouts_in_turn_do_not_lose_changes() -> None:
    """A sender that splits its state over two kinds of datagram, with a signal in both, is understood."""
    mapper = Mapper(SIGNALS)
    take(mapper, {"fuel.total": 1.0, "lights.beacon": 0})
    take(mapper, {"fuel.total": 2.0, "gear.lever": "up"})
    frame = take(mapper, {"fuel.total": 1.0, "lights.beacon": 0})
    assert [(sample.name, sample.value) for sample in frame.changes] == [("fuel.total", 1.0)]


def test_forgetting_says_everything_again() -> None:
    """After a reset, or where a frame was not delivered, the next frame has every value."""
    mapper = Mapper(SIGNALS)
    take(mapper, {"fuel.total": 1.0, "lights.beacon": 0})
    mapper.mark_all_changed()
    assert len(take(mapper, {"fuel.total": 1.0, "lights.beacon": 0}).changes) == 2


def test_a_call_is_told_once_for_each_time_it_was_made() -> None:
    """A call's time repeated in every frame is one call; a new time is a new one; several come in their order."""
    mapper = Mapper(SIGNALS)
    assert take(mapper, {"call.b": 2.0, "call.a": 1.0, "call.c": None}, 5.0).calls == ("a", "b")
    assert take(mapper, {"call.b": 2.0, "call.a": 1.0, "call.c": None}, 5.1).calls == ()
    assert take(mapper, {"call.b": 5.2, "call.a": 1.0, "call.c": 5.15}, 5.2).calls == ("c", "b")


def test_a_call_from_before_a_reset_is_not_told_again() -> None:
    """After the clock jumped back, a call whose time lies ahead is an old one."""
    mapper = Mapper(SIGNALS)
    take(mapper, {"call.a": 100.0}, 101.0)
    mapper.reset()
    assert take(mapper, {"call.a": 100.0}, 0.0, 1).calls == ()
    assert take(mapper, {"call.a": 0.5}, 0.5, 1).calls == ("a",)


def test_positions_and_bits_feed_several_signals() -> None:
    """Columns can be bound by position, and one column can feed several signals."""
    plan = MapPlan(
        (
            FieldMapping("lights.beacon", FieldSource(position=2, bit=0)),
            FieldMapping("lights.strobe", FieldSource(position=2, bit=3)),
        ),
        same_names=False,
    )
    mapper = Mapper(SIGNALS, plan)
    frame = take(mapper, {"": 0.0, "other": 8.0})
    assert [(sample.name, sample.value) for sample in frame.changes] == [
        ("lights.beacon", "off"),
        ("lights.strobe", "on"),
    ]


def test_validity_of_another_column_counts_when_only_it_changes() -> None:
    """A value turns invalid and valid again with its validity field, though its own field never changed."""
    plan = MapPlan(
        (FieldMapping("fuel.total", FieldSource("fuel"), validity=ValidityRule(FieldSource("ok"))),),
        same_names=False,
    )
    mapper = Mapper(SIGNALS, plan)
    qualities = [
        [sample.quality for sample in take(mapper, {"fuel": 5.0, "ok": ok}).changes]
        for ok in (1, 0, 0, 1, None)
    ]
    assert qualities == [[Quality.FRESH], [Quality.INVALID], [], [Quality.FRESH], [Quality.INVALID]]


def test_a_validity_field_that_is_not_sent_means_invalid() -> None:
    """A value whose validity nobody tells is not used, and the missing field is named."""
    plan = MapPlan(
        (FieldMapping("fuel.total", FieldSource("fuel"), validity=ValidityRule(FieldSource("ok"))),)
    )
    mapper = Mapper(SIGNALS, plan)
    assert take(mapper, {"fuel": 5.0}).changes[0].quality is Quality.INVALID
    assert mapper.layout_for(("fuel",)).missing == ("ok",)


RAWS = st.one_of(
    st.none(), st.booleans(), st.integers(-2, 3), st.floats(0, 400), st.sampled_from(["on", "off", "up", "x"])
)


@given(st.lists(st.dictionaries(st.sampled_from(FEW), RAWS), max_size=12))
def test_changes_add_up_to_the_whole(records: list[dict[str, RawValue]]) -> None:
    """Folding the changes of one mapper gives the same state as frames that each say everything."""
    mapper, little, whole = Mapper(SIGNALS), SignalState(SIGNALS), SignalState(SIGNALS)
    for at, record in enumerate(records):
        little.fold(take(mapper, record, float(at)))
        whole.fold(take(Mapper(SIGNALS), record, float(at)))
        assert values(little) == values(whole)


def values(state: SignalState) -> dict[str, tuple[Value | None, Quality]]:
    """Value and quality of the few signals."""
    return {name: (state.sample(name).value, state.sample(name).quality) for name in FEW}
