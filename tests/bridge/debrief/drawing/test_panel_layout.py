"""Tests of grouping signals into panels, and of constant signals."""

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
    """A trace with one value per second."""
    return PlotTrace(signal, f"the {signal}", unit, words, tuple(map(float, range(len(values)))), values)


def grouped(*traces: PlotTrace) -> list[list[str]]:
    """The names of the signals in each panel."""
    return [[one.signal for one in panel] for panel in plot_panels(traces)]


def test_a_surface_shares_a_panel_with_its_control() -> None:
    """Each control shares a panel with the surface that it moves, and with no other."""
    names = ("column", "elevator", "wheel", "aileron", "pedals", "rudder")
    assert grouped(*(trace(f"controls.{name}", "%", 0.0, 100.0) for name in names)) == [
        ["controls.column", "controls.elevator"],
        ["controls.wheel", "controls.aileron"],
        ["controls.pedals", "controls.rudder"],
    ]


def test_both_sides_share_a_panel() -> None:
    """Left and right, captain and first officer, engine 1 and 2 share a panel; unrelated signals of the same unit do not."""
    assert grouped(
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


def test_quantities_of_a_unit_share_a_panel_if_of_similar_size() -> None:
    """Speeds share a panel, but not with a much smaller one; each signal of words has its own."""
    assert grouped(
        trace("airspeed.captain", "kt", 0.0, 160.0),
        trace("flight.ground_speed", "kt", 0.0, 150.0),
        trace("wind.gust", "kt", 0.0, 0.1),
        trace("beacon", "", "on", "off", words=("off", "on")),
        trace("strobe", "", "on", "off", words=("off", "on")),
    ) == [["airspeed.captain", "flight.ground_speed"], ["wind.gust"], ["beacon"], ["strobe"]]


def test_constant_signals_are_text() -> None:
    """A constant signal is text unless it has a limit, shares a panel with a changing one, or has gaps."""
    flap, egt = trace("flap", "deg", 30.0, 30.0), trace("egt", "degC", 400.0, 400.0)
    left, right = trace("brake.left", "psi", 0.0, 0.0), trace("brake.right", "psi", 0.0, 900.0)
    missing = trace("fuel", "kg", 5.0, None)
    shown, constant = split_constant([flap, egt, left, right, missing], ["egt"])
    assert shown == (egt, left, right, missing)
    assert [constant_text(one) for one in constant] == ["the flap 30 deg"]


def test_a_constant_signal_needs_no_room() -> None:
    """A constant signal is text even if there are more signals than panels."""
    many = [trace(f"thing_{letter}", letter, 0.0, 1.0) for letter in "abcdefghijkl"]
    lamp = trace("lamp", "", "on", "on", words=("off", "on"))
    shown, constant = split_constant([*many, lamp])
    assert [constant_text(one) for one in constant] == ["the lamp on"]
    assert len(plot_panels(shown)) == MAX_PANELS


def test_constant_signals_alone_are_drawn() -> None:
    """If every signal is constant, all are drawn, so a plot is never empty."""
    flap = trace("flap", "deg", 30.0, 30.0)
    assert split_constant([flap]) == ((flap,), ())


def test_a_panel_has_a_least_span() -> None:
    """A panel shows at least two degrees, or a twentieth of its largest value."""
    assert min_span([trace("bank", "deg", 0.0, 0.01)]) == 2.0
    assert min_span([trace("pressure", "psi", 2980.0, -3000.0)]) == 150.0
