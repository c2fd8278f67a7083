"""Makes Matplotlib figures and writes them as compact SVG with real text and the page's colours.

Figures are drawn in placeholder colours; `coloured` replaces them by the page's own: CSS variables on a screen, plain values on
paper.

Takes: Matplotlib figures.  Gives: SVG.
"""

from __future__ import annotations

import html
import io
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rules.faults import Fault, InputFaults, Place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INSTALL_HINT = (
    "the debrief's plots and PDF need more packages: pip install 'holdshort[report]', "
    "or in a clone python3 .ci/fresh tools"
)
WIDTH_IN = 7.2
TEXT, DIM, LINE, GROUND = "#010101", "#020202", "#030303", "#040404"
WARNING, CAUTION, ADVISORY = "#050505", "#060606", "#070707"
MET, OPEN, LOST, WAIVED = "#080808", "#090909", "#0a0a0a", "#0b0b0b"
MISSING = "#121212"
TRACE_COLOURS = ("#0c0c0c", "#0d0d0d", "#0e0e0e", "#0f0f0f", "#101010", "#111111")
COLOUR_NAMES = {
    TEXT: "text", DIM: "dim", LINE: "line", GROUND: "raised",
    WARNING: "warning", CAUTION: "caution", ADVISORY: "advisory",
    MET: "met", OPEN: "open", LOST: "lost", WAIVED: "waived", MISSING: "missing",
    **{colour: f"trace-{number}" for number, colour in enumerate(TRACE_COLOURS, start=1)},
}  # fmt: skip
"""Each placeholder colour, and the name of the page's colour that replaces it."""
PANEL_TITLE_STYLE: Any = {"loc": "left", "pad": 2, "fontsize": 7.5, "color": TEXT}
"""Position and font of the title of a panel."""
TRACE_DASHES = ("-", (0, (5, 1.5)), (0, (1.5, 1)), (0, (5, 1, 1, 1)), "-", (0, (3, 1)))
"""Lines differ by their dashes too, not by colour alone."""

_SETTINGS: Any = {
    "svg.fonttype": "none",
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "text.color": TEXT,
    "axes.edgecolor": LINE,
    "axes.labelcolor": DIM,
    "axes.linewidth": 0.6,
    "axes.facecolor": "none",
    "axes.grid": True,
    "axes.grid.axis": "x",
    "axes.axisbelow": True,
    "grid.color": LINE,
    "grid.linewidth": 0.4,
    "xtick.color": DIM,
    "ytick.color": DIM,
    "xtick.labelsize": 7,
    "ytick.labelsize": 7,
    "lines.linewidth": 1.2,
    "figure.facecolor": "none",
}
_IDS = re.compile(r'(\bid="|url\(#|xlink:href="#)')
_SVG_TAG = re.compile(r"<svg[^>]*?viewBox=\"([^\"]*)\"[^>]*>", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>\s*", re.DOTALL)
_COMMENT = re.compile(r"\s*<!--.*?-->", re.DOTALL)
_DECIMALS = re.compile(r"(\d+\.\d{2})\d+")


def new_figure(
    height_in: float, panels: int = 1, heights: list[float] | None = None
) -> tuple[Figure, list[Axes]]:
    """Make a figure with panels one above the other, which share their time axis.

    Args:
        height_in: the height of the figure in inches; it is `WIDTH_IN` wide.
        panels: the number of panels.
        heights: the relative heights of the panels; None for equal heights.

    Raises:
        InputFaults: Matplotlib is not installed.
    """
    try:
        import matplotlib as mpl
        from matplotlib.figure import Figure
    except ImportError:
        raise InputFaults([Fault(Place("debrief"), INSTALL_HINT)]) from None
    with mpl.rc_context(_SETTINGS):
        figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
        grid = figure.subplots(
            panels, 1, sharex=True, squeeze=False, gridspec_kw={"height_ratios": heights or [1.0] * panels}
        )
    axes = [row[0] for row in grid]
    for each in axes:
        each.spines[["top", "right"]].set_visible(False)
    return figure, axes


def svg_of(figure: Figure, name: str, title: str, description: str) -> str:
    """Write a figure as SVG with a title and a description.

    Args:
        figure: the figure.
        name: the id of the plot, unique in the page; the ids within the SVG begin with it.
        title: the title of the plot.
        description: a sentence for readers who cannot see the plot.
    """
    import matplotlib as mpl

    out = io.StringIO()
    with mpl.rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure.savefig(out, format="svg", transparent=True, metadata={"Date": None})
    body = _COMMENT.sub("", _METADATA.sub("", out.getvalue().partition("<svg")[2]))
    body = _DECIMALS.sub(r"\1", _IDS.sub(rf"\g<1>{name}-", f"<svg{body}"))
    words = f"<title>{html.escape(title)}</title><desc>{html.escape(description)}</desc>"
    head = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="\\1" role="img">{words.replace(chr(92), "/")}'
    return _SVG_TAG.sub(head, body, count=1).strip()


def coloured(svg: str, colours: Mapping[str, str] | None = None) -> str:
    """Replace the placeholder colours of a plot.

    Args:
        svg: the SVG from `svg_of`.
        colours: the page's colours by their names; None for CSS variables.
    """

    def colour(found: re.Match[str]) -> str:
        name = COLOUR_NAMES.get(found[0].lower())
        if name is None:
            return found[0]
        return colours[name] if colours is not None else f"var(--{name})"

    return re.sub(r"#[01][0-9a-f]{5}\b", colour, svg, flags=re.IGNORECASE)
