"""Which signals share a panel, and which are not drawn."""

from __future__ import annotations

from bridge.debrief.drawing.panel_layout import (
    MAX_PANELS,
    PlotTrace,
    constant_text,
    min_span,
    plot_panels,
    split_constant,
)
from rules.signals.model import Value


def trace(signal: str, unit: str, *values: Value | None, words: tuple[str, ...] = ()) -> PlotTrace:
    """A trace, a second from value to value."""
    return PlotTrace(signal, f"the {signal}", unit, words, tuple(map(float, range(len(values)))), values)


def named(*traces: PlotTrace) -> list[list[str]]:
    """The signals in their panels."""
    return [[one.signal for one in panel] for panel in plot_panels(traces)]


def test_a_surface_stands_with_its_control() -> None:
    """Each control shares a panel with the surface that it moves, and with no other."""
    names = ("column", "elevator", "wheel", "aileron", "pedals", "rudder")
    assert named(*(trace(f"controls.{name}", "%", 0.0, 100.0) for name in names)) == [
        ["controls.column", "controls.elevator"],
        ["controls.wheel", "controls.aileron"],
        ["controls.pedals", "controls.rudder"],
    ]


def test_both_sides_of_a_thing_stand_together() -> None:
    """Left and right, captain and first officer, engine 1 and 2 share a panel; other things in the same unit do not."""
    assert named(
        trace("engine.1.n1", "%", 20.0, 90.0),
        trace("gear.left.position", "%", 0.0, 100.0),
        trace("engine.2.n1", "%", 20.0, 88.0),
        trace("gear.right.position", "%", 0.0, 99.0),
        trace("engine.1.thrust_lever", "%", 0.0, 90.0),
    ) == [
        ["engine.1.n1", "engine.2.n1"],
        ["gear.left.position", "gear.right.position"],
        ["engine.1.thrust_lever"],
    ]


def test_quantities_of_a_unit_stand_together_if_of_a_size() -> None:
    """Speeds share a panel; a thousandth of another would be a line on the ground; words stand alone."""
    assert named(
        trace("airspeed.captain", "kt", 0.0, 160.0),
        trace("flight.ground_speed", "kt", 0.0, 150.0),
        trace("wind.gust", "kt", 0.0, 0.1),
        trace("beacon", "", "on", "off", words=("off", "on")),
        trace("strobe", "", "on", "off", words=("off", "on")),
    ) == [["airspeed.captain", "flight.ground_speed"], ["wind.gust"], ["beacon"], ["strobe"]]


def test_what_did_not_move_is_said() -> None:
    """A pair of which neither moved is words; one with a limit is drawn, and one whose partner moved, and one with gaps."""
    flap, egt = trace("flap", "deg", 30.0, 30.0), trace("egt", "degC", 400.0, 400.0)
    left, right = trace("brake.left", "psi", 0.0, 0.0), trace("brake.right", "psi", 0.0, 900.0)
    gone = trace("fuel", "kg", 5.0, None)
    drawn, still = split_constant([flap, egt, left, right, gone], ["egt"])
    assert drawn == (egt, left, right, gone)
    assert [constant_text(one) for one in still] == ["the flap 30 deg"]


def test_what_is_beyond_the_last_panel_is_still_said() -> None:
    """A thing that did not move is said though there would have been no room for it."""
    many = [trace(f"thing_{letter}", letter, 0.0, 1.0) for letter in "abcdefghijkl"]
    lamp = trace("lamp", "", "on", "on", words=("off", "on"))
    drawn, still = split_constant([*many, lamp])
    assert [constant_text(one) for one in still] == ["the lamp on"]
    assert len(plot_panels(drawn)) == MAX_PANELS


def test_where_nothing_moved_all_is_drawn() -> None:
    """A plot is never empty."""
    flap = trace("flap", "deg", 30.0, 30.0)
    assert split_constant([flap]) == ((flap,), ())


def test_a_tremble_is_no_swing() -> None:
    """A panel shows at least two degrees, or a twentieth of what it shows."""
    assert min_span([trace("bank", "deg", 0.0, 0.01)]) == 2.0
    assert min_span([trace("pressure", "psi", 2980.0, -3000.0)]) == 150.0
