"""Finds where a plot draws something in a colour: the horizontal extent of each stroke and area.

Takes: an SVG in placeholder colours.  Gives: spans, in the units of the drawing.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from itertools import pairwise
from xml.etree.ElementTree import Element, fromstring

from bridge.debrief.drawing.svg_figure import LOST, MET, MISSING, OPEN, TRACE_COLOURS, WAIVED

DATA_COLOURS = (*TRACE_COLOURS, MET, OPEN, LOST, WAIVED)
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_STEP = re.compile(r"([ML])\s*(-?[\d.]+)\s+-?[\d.]+|z", re.IGNORECASE)


def drawn_spans(svg: str, colours: Collection[str] = DATA_COLOURS) -> list[tuple[float, float]]:
    """Give the left and right end of each stroke of a line, and of each area, that has one of these colours; without legends."""
    root = fromstring(svg)  # noqa: S314 - our own SVG
    by_id = {element.get("id", ""): element for element in root.iter(f"{_SVG}path")}
    patterns = {part for pattern in root.iter(f"{_SVG}pattern") for part in pattern.iter()}
    legends = {
        part for group in root.iter(f"{_SVG}g") if "legend" in group.get("id", "") for part in group.iter()
    }
    spans: list[tuple[float, float]] = []
    for element in root.iter():
        style = element.get("style", "")
        if element in patterns | legends or not any(colour in style for colour in colours):
            continue
        if element.tag == f"{_SVG}use":
            spans += _spans_of(by_id[element.get(_HREF, "")[1:]], float(element.get("x", "0")))
        elif element.tag == f"{_SVG}path":
            spans += _spans_of(element, 0.0)
    return spans


def gap_spans(svg: str) -> list[tuple[float, float]]:
    """Give the left and right edge of each hatched gap, over all panels."""
    by_edges = drawn_spans(svg, (MISSING,))
    return sorted({(low, high) for low, high in by_edges if high > low})


def crosses_a_gap(svg: str) -> bool:
    """Return True if a line or area of data lies within a gap."""
    return any(
        low < right - 0.5 and high > left + 0.5
        for left, right in gap_spans(svg)
        for low, high in drawn_spans(svg)
    )


def _spans_of(path: Element, shift: float) -> Iterator[tuple[float, float]]:
    """Yield the extent of each stroke of a path; a closed path is one area."""
    data = path.get("d", "")
    xs = [float(found[2]) + shift for found in _STEP.finditer(data) if found[1]]
    if "z" in data.lower():
        yield min(xs), max(xs)
        return
    steps = [(found[1].upper(), float(found[2]) + shift) for found in _STEP.finditer(data)]
    for (_, before), (kind, after) in pairwise(steps):
        if kind == "L":
            yield min(before, after), max(before, after)
