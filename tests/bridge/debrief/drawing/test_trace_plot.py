"""Tests of plots of signals: limits, marks, words, gaps, ids and colours."""

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
    marks: tuple[PlotMark, ...] = (),
    name: str = "plot-1",
) -> str:
    """A plot of the traces."""
    return draw_traces(name, "A <start>", "What & when.", traces or (EGT,), limits, marks, SPAN)


def height_of(svg: str, words: str) -> float:
    """The distance of a text from the top."""
    found = re.search(rf'<text[^>]*?(?:y="|translate\([-\d.]+ )([-\d.]+)[^>]*>{re.escape(words)}<', svg)
    assert found is not None
    return float(found[1])


def test_limits_are_lines_with_labels() -> None:
    """A limit is a labelled line in the caution colour; limits of other signals are not drawn."""
    bare = drawn()
    svg = drawn(
        limits=(PlotLimit("engine.1.egt", 725.0, "start EGT limit"), PlotLimit("other", 1.0, "not here"))
    )
    assert CAUTION not in bare
    assert f"stroke: {CAUTION}" in svg
    assert svg.count(">start EGT limit<") == 1
    assert "not here" not in svg


def test_limits_at_one_level_share_a_label() -> None:
    """Two limits at the same level are one line, and equal labels are written once."""
    other = PlotTrace("engine.2.egt", "engine 2 EGT", "degC", (), TIMES, (20.0, 500.0, 400.0))
    svg = drawn(EGT, other, limits=tuple(PlotLimit(f"engine.{n}.egt", 725.0, "hot") for n in (1, 2)))
    assert svg.count(">hot<") == 1
    assert svg.count(f"stroke: {CAUTION}") == 1


def test_labels_of_close_limits_do_not_overlap() -> None:
    """The labels of limits one degree apart have the height of a line between them."""
    svg = drawn(limits=(PlotLimit("engine.1.egt", 700.0, "lower"), PlotLimit("engine.1.egt", 701.0, "upper")))
    assert height_of(svg, "lower") - height_of(svg, "upper") >= 7.0


def test_labels_of_close_marks_are_on_separate_lines() -> None:
    """Marks a second apart have labels one above the other, those far apart on one line; findings are red."""
    marks = (PlotMark(5.0, "light-off"), PlotMark(6.0, "8 opened", is_finding=True), PlotMark(25.0, "idle"))
    svg = drawn(marks=marks)
    assert height_of(svg, "light-off") - height_of(svg, "8 opened") >= 7.0
    assert height_of(svg, "idle") == height_of(svg, "light-off")
    assert WARNING in svg
    assert WARNING not in drawn(marks=marks[:1])


def test_words_are_steps() -> None:
    """Only the words that occur are named."""
    svg = drawn(LEVER)
    assert ">closed<" in svg
    assert ">open<" in svg
    assert ">start<" not in svg


def test_an_unknown_value_is_a_gap() -> None:
    """An unknown value breaks the line; a line continues to the end of the plot."""
    gap = PlotTrace("a", "a", "kg", (), (0.0, 5.0, 10.0), (1.0, None, 2.0))
    unbroken = PlotTrace("a", "a", "kg", (), (0.0, 5.0, 10.0), (1.0, 1.0, 2.0))
    assert len(re.findall(r"d=\"M [^\"]*M ", drawn(gap))) == 1
    assert not re.findall(r"d=\"M [^\"]*M ", drawn(unbroken))


def test_a_plot_is_part_of_its_page() -> None:
    """Its ids begin with its name, its title and description are escaped, its text is text, and it is reproducible."""
    svg = drawn(name="plot-7")
    assert all(found.startswith("plot-7-") for found in re.findall(r'\bid="([^"]*)"', svg))
    assert all(found.startswith("plot-7-") for found in re.findall(r"url\(#([^)]*)\)", svg))
    assert "<title>A &lt;start&gt;</title><desc>What &amp; when.</desc>" in svg
    assert ">engine 1 EGT<" in svg
    assert svg == drawn(name="plot-7")
    assert len(svg) < 20_000


def test_placeholder_colours_are_replaced() -> None:
    """They become CSS variables on a screen and plain colours on paper."""
    svg = drawn(marks=(PlotMark(5.0, "1 opened", is_finding=True),))
    assert "var(--warning)" in coloured(svg)
    assert "#b3130a" in coloured(
        svg, dict.fromkeys(("text", "dim", "line", "raised", "trace-1", "warning"), "#b3130a")
    )
