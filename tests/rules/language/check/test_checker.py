"""The check resolves names to signals, converts numbers to the signals' units, and expands `*`.

Takes: conditions in small scopes.  Gives: checked trees.
"""

from __future__ import annotations

from typing import TypeVar

import pytest

from rules.language import checked_tree
from rules.language.check import AllInoperative, check
from rules.language.traversal import item_ids, signal_names
from rules.signals.model import Signal
from tests.rules.language.scopes import SCOPES, at

_Kind = TypeVar("_Kind")


def checked(text: str, scope: str = "small") -> checked_tree.Condition:
    """Checked tree of a text."""
    return check(text, SCOPES[scope], at(text))


def checked_as(kind: type[_Kind], text: str, scope: str = "small") -> _Kind:
    """Checked tree, which must be of this type."""
    found = checked(text, scope)
    assert isinstance(found, kind)
    return found


def signal(name: str) -> Signal:
    """Signal of the small scope."""
    return SCOPES["small"].signals[name]


# -- words, calls, items -----------------------------------------------------------------------------------


def test_words_calls_and_items_are_found() -> None:
    """Each kind of name gives its own node, with its label."""
    assert checked("gear.brake is not set") == checked_tree.WordIs(
        signal("gear.brake"), ("set",), negated=True
    )
    assert checked("papers.runway is panel.runway") == checked_tree.SameWord(
        signal("papers.runway"), signal("panel.runway")
    )
    assert checked("call.cleared happened") == _once(
        checked_tree.CallEvent("cleared", "cleared for take-off")
    )
    assert checked("flow.beacon is not met") == checked_tree.Not(
        checked_tree.ItemMet("flow.before_start.beacon", "Beacon")
    )
    assert checked("flow.beacon became met") == _once(
        checked_tree.Rise(checked_tree.ItemMet("flow.before_start.beacon", "Beacon"))
    )


def _once(event: checked_tree.Event) -> checked_tree.Once:
    """The event as a condition that must be true."""
    return checked_tree.Once(event, assumes=True)


@pytest.mark.parametrize(
    ("scope", "item"),
    [("small", "flow.before_start.pumps"), ("after start", "flow.after_start.pumps")],
)
def test_a_short_item_name_means_the_item_of_its_own_flow(scope: str, item: str) -> None:
    """`flow.KEY` means the own flow's item where two flows have one of that key."""
    assert item_ids(checked("flow.pumps is met", scope)) == (item,)


def test_a_short_item_name_finds_the_only_item_of_another_flow() -> None:
    """A short item name finds an item of another flow where no second flow has it; a full one always does."""
    assert item_ids(checked("flow.bleed is met")) == ("flow.after_start.bleed",)
    assert item_ids(checked("flow.after_start.pumps is met")) == ("flow.after_start.pumps",)


def test_a_limit_is_a_constant_with_its_label() -> None:
    """A limit has its label for the reason sentence and takes the signal's unit."""
    relation = checked_as(checked_tree.Relation, "engine.1.egt < limit.start_egt")
    assert relation.right == checked_tree.Constant(740, "degC", "start EGT limit")


# -- units ---------------------------------------------------------------------------------------------------

# Exact by definition: 1 bar = 100 kPa (SI), 1 lb = 0.453 592 37 kg and 1 ft = 0.3048 m (international yard
# and pound, 1959), 1 kt = 1852 m/h (ICAO Annex 5), F = C * 9/5 + 32.
CONVERSIONS = [
    ("fuel.total > 1000 lb", 453.59237, "kg"),
    ("altitude > 304.8 m", 1000.0, "ft"),
    ("altitude > 1 m", 1 / 0.3048, "ft"),
    ("speed > 1852 m/h", 1.0, "kt"),
    ("climb > 1 ft/s", 60.0, "ft/min"),
    ("air.outside > 50 degF", 10.0, "degC"),
    ("air.cabin > 10 degC", 50.0, "degF"),
    ("rate(altitude, 5 s) > 600 ft/min", 10.0, "ft/s"),
    ("change(air.outside, 5 s) > 18 degF", 10.0, "degC"),
    ("air.outside - air.cabin > 18 degF", 10.0, "degC"),
    ("code > 1200", 1200.0, "1"),
    ("mach > 0.5", 0.5, "1"),
    ("engine.1.n2 > 25 %", 25.0, "%"),
]


@pytest.mark.parametrize(("text", "value", "unit"), CONVERSIONS)
def test_numbers_come_in_the_signals_unit(text: str, value: float, unit: str) -> None:
    """A number in another unit is converted; a difference of temperatures without the zero point."""
    right = checked_as(checked_tree.Relation, text).right
    assert isinstance(right, checked_tree.Constant)
    assert right.unit == unit
    assert right.value == pytest.approx(value, rel=1e-9)


def test_the_left_signals_unit_counts() -> None:
    """Of two signals in different units, the right one is converted to the left one's."""
    relation = checked_as(checked_tree.Relation, "air.outside < air.cabin")
    assert relation.left == checked_tree.SignalValue(signal("air.outside"), unit="degC")
    right = relation.right
    assert isinstance(right, checked_tree.SignalValue)
    assert right.unit == "degC"
    assert 50 * right.factor + right.offset == pytest.approx(10)


def test_a_number_on_the_left_takes_the_right_ones_unit() -> None:
    """`1000 lb < fuel.total` compares in kilograms."""
    left = checked_as(checked_tree.Relation, "1000 lb < fuel.total").left
    assert isinstance(left, checked_tree.Constant)
    assert (left.unit, round(left.value, 5)) == ("kg", 453.59237)


def number(term: checked_tree.Term) -> float:
    """Value of a constant."""
    assert isinstance(term, checked_tree.Constant)
    return term.value


def test_ranges_and_tolerances_are_converted() -> None:
    """Both ends of a range convert; a tolerance converts as a difference, without the zero point."""
    assert number(checked_as(checked_tree.Between, "air.outside in 32..50 degF").low) == pytest.approx(0)
    assert number(checked_as(checked_tree.Between, "air.outside in 32..50 degF").high) == pytest.approx(10)
    within = checked_as(checked_tree.WithinTolerance, "air.outside within 9 degF of 10 degC")
    assert number(within.tolerance) == pytest.approx(5)
    sweep = checked_as(checked_tree.Once, "elevator swept -95..95 %").event
    assert isinstance(sweep, checked_tree.Sweep)
    assert (number(sweep.low), number(sweep.high)) == (-95, 95)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("air.outside + 9 degF > 10 degC", 5.0),
        ("limit.start_egt - 9 degF > engine.1.egt", 5.0),
    ],
)
def test_a_number_added_to_a_temperature_is_a_difference(text: str, wanted: float) -> None:
    """`x + 9 degF` is five degrees Celsius more, not the temperature 9 degF."""
    total = checked_as(checked_tree.Relation, text).left
    assert isinstance(total, checked_tree.Sum)
    assert isinstance(total.right, checked_tree.Constant)
    assert total.right.value == pytest.approx(wanted)


def test_a_change_in_another_unit_than_its_number() -> None:
    """A window over two temperature units converts the right one to the left one's, as a difference."""
    relation = checked_as(checked_tree.Relation, "change(air.outside, 5 s) > change(air.cabin, 5 s)")
    right = relation.right
    assert isinstance(right, checked_tree.Scale)
    assert right.factor == pytest.approx(5 / 9)


# -- the circle ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "heading = 140 deg",
        "heading != track",
        "heading in 350..10 deg",
        "heading within 10 deg of limit.runway",
        "heading within 10 deg of track + 180 deg",
    ],
)
def test_directions_compare_on_the_circle(text: str) -> None:
    """Every comparison of a direction is on the circle."""
    node = checked(text)
    assert isinstance(node, checked_tree.Relation | checked_tree.Between | checked_tree.WithinTolerance)
    assert node.on_circle


def test_other_degrees_compare_on_the_line() -> None:
    """A pitch is in degrees but is no direction."""
    assert not checked_as(checked_tree.Relation, "pitch > 5 deg").on_circle


# -- stars -----------------------------------------------------------------------------------------------------


def test_a_wildcard_expands_in_the_order_of_the_book() -> None:
    """Without `any`, all matches are required, and the node records the wildcard."""
    pumps = checked_as(checked_tree.And, "pump.*.switch is on")
    assert pumps.from_wildcard
    assert signal_names(pumps) == ("pump.left.switch", "pump.centre.switch", "pump.right.switch")


def test_any_asks_for_one_match() -> None:
    """With `any`, one match is enough, and the whole part shares the match."""
    running = checked_as(checked_tree.Or, "any (engine.*.n2 > 5 % and engine.*.lever is open)")
    assert [signal_names(part) for part in running.parts] == [
        ("engine.1.n2", "engine.1.lever"),
        ("engine.2.n2", "engine.2.lever"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "engine.*.n2 within 5 % of highest(engine.*.n2, 5 s)",
        "engine.*.lever became open after (engine.*.n2 > 20 %) happened",
        "engine.*.n2 > 20 % since engine.*.lever became open",
        "count(engine.*.lever became open, 5 s) >= 1",
    ],
)
def test_one_comparison_has_one_match(text: str) -> None:
    """The same `*` is the same word throughout one comparison or event."""
    both = checked_as(checked_tree.And, text)
    numbers = [{name.split(".")[1] for name in signal_names(part)} for part in both.parts]
    assert numbers == [{"1"}, {"2"}]


def test_an_inner_any_has_its_own_wildcard() -> None:
    """A `*` under an inner `any` is not bound by the outer one."""
    outer = checked_as(checked_tree.Or, "any (pump.*.switch is on and any engine.*.n2 > 5 %)")
    assert len(outer.parts) == 3
    assert all("engine.2.n2" in signal_names(part) for part in outer.parts)


def test_a_wildcard_with_one_match_equals_that_name() -> None:
    """A `*` with one match is the same as that name."""
    assert checked("weather.* is yes") == checked("weather.moisture is yes")


# -- inoperative -------------------------------------------------------------------------------------------------


def test_a_wildcard_leaves_out_inoperative_signals() -> None:
    """A pump that is dispatched inoperative is left out."""
    pumps = checked("pump.*.switch is on and lights.beacon is on", "no left pump")
    assert signal_names(pumps) == ("pump.centre.switch", "pump.right.switch", "lights.beacon")


def test_a_match_with_an_inoperative_name_is_left_out_completely() -> None:
    """A match with one inoperative name is left out completely."""
    assert signal_names(
        checked("any (engine.*.n2 > 5 % and engine.*.lever is open)", "no engine 2 speed")
    ) == (
        "engine.1.n2",
        "engine.1.lever",
    )


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("pump.*.switch is on and lights.beacon is on", "lights.beacon is on"),
        ("lights.beacon is on or not any pump.*.switch is on", "lights.beacon is on"),
        ("(pump.*.switch is on for 2 s and lights.beacon is on) for 3 s", "lights.beacon is on for 3 s"),
    ],
)
def test_an_inoperative_part_is_dropped(text: str, left: str) -> None:
    """A part that is wholly inoperative is dropped, and the rest is checked."""
    assert checked(text, "no pumps") == checked(left)


@pytest.mark.parametrize(
    "text",
    [
        "pump.*.switch is on",
        "any pump.*.switch is on for 2 s",
        "not any pump.*.switch is on",
        "if lights.beacon is on then pump.*.switch is on",
        "pump.*.switch is on and pump.*.low_pressure is off",
        "lights.beacon is on since pump.*.switch became on",
        "pump.*.switch became on before call.cleared happened",
    ],
)
def test_an_inoperative_condition_raises(text: str) -> None:
    """A condition that is wholly inoperative raises AllInoperative with the signals that it left out."""
    with pytest.raises(AllInoperative) as caught:
        checked(text, "no pumps")
    assert {"pump.left.switch", "pump.centre.switch", "pump.right.switch"} <= set(caught.value.signals)


def test_a_name_without_a_wildcard_is_never_left_out() -> None:
    """A pump named without `*` is read, inoperative or not; the pack waives the item."""
    assert signal_names(checked("pump.left.switch is on", "no left pump")) == ("pump.left.switch",)


def test_a_prefix_ends_at_a_dot() -> None:
    """`engine.1` inoperative does not include `engine.10`."""
    scope = SCOPES["no left pump"]
    assert scope.is_inoperative("pump.left.switch")
    assert not scope.is_inoperative("pump.left_aft.switch")


# -- walks -------------------------------------------------------------------------------------------------------


def test_signals_and_items_are_listed_once_in_order() -> None:
    """Signals and items of a condition are listed in the order of reading, once each, from events and windows too."""
    node = checked(
        "speed > 5 kt and flow.beacon is met and flow.bleed is met and flow.beacon is met "
        "and highest(altitude, 5 s) > 5 ft and gear.brake became set after (speed > 80 kt) happened "
        "and papers.runway is panel.runway"
    )
    assert signal_names(node) == ("speed", "altitude", "gear.brake", "papers.runway", "panel.runway")
    assert item_ids(node) == ("flow.before_start.beacon", "flow.after_start.bleed")


def test_a_condition_may_extend_over_several_lines() -> None:
    """Line ends are spaces."""
    assert checked("lights.beacon is on\n  and\n\tspeed > 5 kt") == checked(
        "lights.beacon is on and speed > 5 kt"
    )
