"""Renders a debrief as one self-contained HTML page and as a PDF.

Takes: `DebriefData`.  Gives: HTML; PDF.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.common.time_text import duration_text, format_sim_time, long_date, time_of_day
from bridge.debrief import wording
from bridge.debrief.criteria import mark_values, stabilised_criteria
from bridge.debrief.drawing.plots import Plot, Plots, draw_all, flown_flows
from bridge.debrief.drawing.svg_figure import INSTALL_HINT, coloured
from bridge.debrief.gaps import gaps_on_axis_text
from bridge.debrief.model import DebriefData
from bridge.session.change_text import change_text
from bridge.session.threat_error import ErrorClass
from rules.faults import Fault, InputFaults, Place
from rules.packs.model import Level, owner_title
from rules.signals.number_format import format_value
from rules.words import capitalised, count_in_words, join_and, words_of_id

PANGO_HINT = (
    "the PDF needs Pango, which lays out text: on Debian, as root, "
    "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
)
TEMPLATE_DIR = Path(__file__).parent / "templates"
LIGHT_COLOURS = {
    "text": "#171c21", "dim": "#4b565f", "line": "#b9bfc4", "raised": "#fffefa",
    "warning": "#b3130a", "caution": "#7d5200", "advisory": "#0b5688",
    "met": "#2f6f62", "open": "#808a92", "lost": "#7a3b78", "waived": "#4b565f", "missing": "#6b747b",
    "trace-1": "#0b5688", "trace-2": "#2f6f62", "trace-3": "#7a3b78",
    "trace-4": "#4b565f", "trace-5": "#3d5a1f", "trace-6": "#5b4a9c",
}  # fmt: skip
"""Colours on paper, and on a light screen."""
DARK_COLOURS = {
    "text": "#ece7db", "dim": "#a9b3bb", "line": "#33404c", "raised": "#161d24",
    "warning": "#ff6b5e", "caution": "#ffb52e", "advisory": "#8fc3ea",
    "met": "#63b3a0", "open": "#76828c", "lost": "#d18ccf", "waived": "#a9b3bb", "missing": "#8b969f",
    "trace-1": "#8fc3ea", "trace-2": "#7ecdb9", "trace-3": "#d9a2d7",
    "trace-4": "#c3c8cc", "trace-5": "#a9cc85", "trace-6": "#b4a6ea",
}  # fmt: skip
LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)


def render_html(debrief: DebriefData, plots: Plots | None = None) -> str:
    """Render the page for a screen.

    Args:
        debrief: the session.
        plots: its plots, if they are drawn already.

    Raises:
        InputFaults: a library for the plots is not installed.
    """
    return _render(debrief, plots or draw_all(debrief), paper=False)


def render_pdf(debrief: DebriefData, plots: Plots | None = None) -> bytes:
    """Render the PDF on A4.

    Args:
        debrief: the session.
        plots: its plots, if they are drawn already.

    Raises:
        InputFaults: a library for the plots or the PDF is not installed, or a system library for text layout.
    """
    try:
        from weasyprint import HTML
    except ImportError as error:
        raise InputFaults([Fault(Place("debrief"), f"{INSTALL_HINT} ({error})")]) from None
    except OSError as error:
        raise InputFaults([Fault(Place("debrief"), f"{PANGO_HINT} ({error})")]) from None
    page = _render(debrief, plots or draw_all(debrief), paper=True)
    pdf: bytes = HTML(string=page).write_pdf()
    return pdf


def _render(debrief: DebriefData, plots: Plots, *, paper: bool) -> str:
    template = _environment(paper=paper).get_template("debrief.html")
    return template.render(
        **_template_values(debrief, plots), paper=paper, light=LIGHT_COLOURS, dark=DARK_COLOURS
    )


def _template_values(debrief: DebriefData, plots: Plots) -> Mapping[str, Any]:
    """The values of the template; `levels` counts errors, and what is not verifiable is none."""
    errors = wording.errors(debrief)
    return {
        "debrief": debrief,
        "plots": plots,
        "summary": wording.summary(debrief),
        "owner_title": owner_title,
        "author_text": lambda by: wording.author_text(by, debrief.seats),
        "gaps": wording.gaps_sentence(debrief.gaps),
        "flow_histories": list(flown_flows(debrief)),
        "criteria": stabilised_criteria(debrief),
        "levels": {level: sum(one.finding.level is level for one in errors) for level in LEVELS},
        "classes": {kind: sum(one.error_class is kind for one in debrief.findings) for kind in ErrorClass},
        "short_disclaimer": SHORT_DISCLAIMER,
        "sectors": [
            (sector, wording.flight_moments(times)) for sector, times in debrief.flight_times.items()
        ],
        "at_marks": mark_values,
    }


def css_string(text: str) -> Markup:
    """Quote a text as a CSS string; every character that could end it is escaped."""
    safe = "".join(char if char.isalnum() or char in " .,;:" else f"\\{ord(char):06x}" for char in text)
    return Markup(f'"{safe}"')  # noqa: S704 - only letters, digits and escapes


def _environment(*, paper: bool) -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATE_DIR),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

    def as_svg(plot: Plot) -> Markup:
        return Markup(coloured(plot.svg, LIGHT_COLOURS if paper else None))  # noqa: S704 - our own SVG, whose text is escaped

    filters: dict[str, Callable[..., object]] = {
        "clock": format_sim_time,
        "capitalised": capitalised,
        "pluralised": wording.pluralised,
        "css_string": css_string,
        "time_of_day": time_of_day,
        "long_date": long_date,
        "words_of_id": words_of_id,
        "duration_text": duration_text,
        "spare_text": wording.spare_text,
        "lead_text": wording.lead_text,
        "join_and": join_and,
        "count_in_words": count_in_words,
        "say": format_value,
        "change_text": change_text,
        "as_svg": as_svg,
        "gaps_on_axis": gaps_on_axis_text,
    }
    environment.filters.update(filters)
    return environment
