"""Plots of signals: limits, moments, words, gaps; and what makes them part of a page."""

from __future__ import annotations

import re

from bridge.debrief.drawing.panel_layout import PlotTrace
from bridge.debrief.drawing.svg_figure import CAUTION, WARNING, coloured
from bridge.debrief.drawing.trace_plot import PlotLimit, PlotMark, draw_traces

TIMES = (0.0, 10.0, 20.0)
EGT = PlotTrace("engine.1.egt", "engine 1 EGT", "degC", (), TIMES, (20.0, 600.0, 480.0))
LEVER = PlotTrace("lever", "fuel lever", "", ("closed", "open", "start"), TIMES, ("closed", "open", "open"))
SPAN = (0.0, 30.0)


def drawn(
    *traces: PlotTrace,
    limits: tuple[PlotLimit, ...] = (),
    moments: tuple[PlotMark, ...] = (),
    name: str = "plot-1",
) -> str:
    """A plot of them."""
    return draw_traces(name, "A <start>", "What & when.", traces or (EGT,), limits, moments, SPAN)


def height_of(svg: str, words: str) -> float:
    """How far from the top some words stand."""
    found = re.search(rf'<text[^>]*?(?:y="|translate\([-\d.]+ )([-\d.]+)[^>]*>{re.escape(words)}<', svg)
    assert found is not None
    return float(found[1])


def test_limits_are_lines_with_names() -> None:
    """A limit is a line in the colour of cautions, named beside the plot; those of other signals are not drawn."""
    bare = drawn()
    svg = drawn(
        limits=(PlotLimit("engine.1.egt", 725.0, "start EGT limit"), PlotLimit("other", 1.0, "not here"))
    )
    assert CAUTION not in bare
    assert f"stroke: {CAUTION}" in svg
    assert svg.count(">start EGT limit<") == 1
    assert "not here" not in svg


def test_limits_at_one_level_share_a_name() -> None:
    """Two limits at the same level are one line with both names, and one named twice is named once."""
    other = PlotTrace("engine.2.egt", "engine 2 EGT", "degC", (), TIMES, (20.0, 500.0, 400.0))
    svg = drawn(EGT, other, limits=tuple(PlotLimit(f"engine.{n}.egt", 725.0, "hot") for n in (1, 2)))
    assert svg.count(">hot<") == 1
    assert svg.count(f"stroke: {CAUTION}") == 1


def test_names_of_near_limits_stand_apart() -> None:
    """Limits a degree apart have names that do not stand on each other."""
    svg = drawn(limits=(PlotLimit("engine.1.egt", 700.0, "lower"), PlotLimit("engine.1.egt", 701.0, "upper")))
    assert height_of(svg, "lower") - height_of(svg, "upper") >= 7.0


def test_near_moments_are_named_on_lines_of_their_own() -> None:
    """Events a second apart are named one above the other, those far apart on one line; findings are in red."""
    moments = (PlotMark(5.0, "light-off"), PlotMark(6.0, "8 found", is_finding=True), PlotMark(25.0, "idle"))
    svg = drawn(moments=moments)
    assert height_of(svg, "light-off") - height_of(svg, "8 found") >= 7.0
    assert height_of(svg, "idle") == height_of(svg, "light-off")
    assert WARNING in svg
    assert WARNING not in drawn(moments=moments[:1])


def test_words_are_steps_between_their_names() -> None:
    """Only the words that a switch had are named."""
    svg = drawn(LEVER)
    assert ">closed<" in svg
    assert ">open<" in svg
    assert ">start<" not in svg


def test_what_is_not_known_is_a_gap() -> None:
    """A value that could not be believed breaks the line; a line goes on to the end of the plot."""
    gap = PlotTrace("a", "a", "kg", (), (0.0, 5.0, 10.0), (1.0, None, 2.0))
    whole = PlotTrace("a", "a", "kg", (), (0.0, 5.0, 10.0), (1.0, 1.0, 2.0))
    assert len(re.findall(r"d=\"M [^\"]*M ", drawn(gap))) == 1
    assert not re.findall(r"d=\"M [^\"]*M ", drawn(whole))


def test_a_plot_is_part_of_its_page() -> None:
    """Its ids begin with its name, its title and sentence are escaped, its words stay words, and it is the same each time."""
    svg = drawn(name="plot-7")
    assert all(found.startswith("plot-7-") for found in re.findall(r'\bid="([^"]*)"', svg))
    assert all(found.startswith("plot-7-") for found in re.findall(r"url\(#([^)]*)\)", svg))
    assert "<title>A &lt;start&gt;</title><desc>What &amp; when.</desc>" in svg
    assert ">engine 1 EGT<" in svg
    assert svg == drawn(name="plot-7")
    assert len(svg) < 20_000


def test_colours_are_those_that_are_given() -> None:
    """On a screen the page's variables, on paper plain colours."""
    svg = drawn(moments=(PlotMark(5.0, "1 found", is_finding=True),))
    assert "var(--warning)" in coloured(svg)
    assert "#b3130a" in coloured(
        svg, dict.fromkeys(("text", "dim", "line", "raised", "trace-1", "warning"), "#b3130a")
    )
