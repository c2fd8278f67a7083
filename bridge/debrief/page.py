"""The debrief as one page: HTML that needs nothing beside it, and the same on paper.

Takes: an account.  Gives: HTML; PDF.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from bridge.debrief import words
from bridge.debrief.account import Account
from bridge.debrief.criteria import at_marks, criteria
from bridge.debrief.drawing.sheet import INSTALL, coloured
from bridge.debrief.plots import Plot, Plots, draw_all, flown
from bridge.screen import SHORT_CAUTION, clock
from bridge.threat_error import ErrorClass
from rules.faults import Fault, InputFaults, Place
from rules.packs.model import Level
from rules.signals.numbers import say

TEMPLATES = Path(__file__).parent / "templates"
LIGHT = {
    "text": "#171c21", "dim": "#4b565f", "line": "#b9bfc4", "raised": "#fffefa",
    "warning": "#b3130a", "caution": "#7d5200", "advisory": "#0b5688",
    "met": "#2f6f62", "open": "#808a92", "lost": "#7a3b78", "excused": "#4b565f",
    "trace-1": "#0b5688", "trace-2": "#2f6f62", "trace-3": "#7a3b78",
    "trace-4": "#4b565f", "trace-5": "#3d5a1f", "trace-6": "#5b4a9c",
}  # fmt: skip
"""On paper, and on a screen that is light."""
DARK = {
    "text": "#ece7db", "dim": "#a9b3bb", "line": "#33404c", "raised": "#161d24",
    "warning": "#ff6b5e", "caution": "#ffb52e", "advisory": "#8fc3ea",
    "met": "#63b3a0", "open": "#76828c", "lost": "#d18ccf", "excused": "#a9b3bb",
    "trace-1": "#8fc3ea", "trace-2": "#7ecdb9", "trace-3": "#d9a2d7",
    "trace-4": "#c3c8cc", "trace-5": "#a9cc85", "trace-6": "#b4a6ea",
}  # fmt: skip
LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)


def write_html(account: Account, plots: Plots | None = None) -> str:
    """The page for a screen.

    Args:
        account: the session.
        plots: its plots, where they are drawn already.

    Raises:
        InputFaults: a library for the plots is not installed.
    """
    return _written(account, plots or draw_all(account), paper=False)


def write_pdf(account: Account, plots: Plots | None = None) -> bytes:
    """The page on A4.

    Raises:
        InputFaults: a library for plots or paper is not installed.
    """
    try:
        from weasyprint import HTML
    except (ImportError, OSError) as error:  # OSError: a part of the system that lays text out
        raise InputFaults([Fault(Place("debrief"), f"{INSTALL} ({error})")]) from None
    page = _written(account, plots or draw_all(account), paper=True)
    pdf: bytes = HTML(string=page).write_pdf()
    return pdf


def _written(account: Account, plots: Plots, *, paper: bool) -> str:
    template = _environment(paper=paper).get_template("debrief.html")
    return template.render(**_context(account, plots), paper=paper, light=LIGHT, dark=DARK)


def _context(account: Account, plots: Plots) -> Mapping[str, Any]:
    """What the template shows."""
    return {
        "account": account,
        "plots": plots,
        "summary": words.summary(account),
        "flows": list(flown(account)),
        "criteria": criteria(account),
        "levels": {level: sum(case.finding.level is level for case in account.cases) for level in LEVELS},
        "classes": {kind: sum(case.error_class is kind for case in account.cases) for kind in ErrorClass},
        "caution": account.caution,
        "short_caution": SHORT_CAUTION,
        "sectors": [(sector, words.moments(noted)) for sector, noted in account.times.items()],
        "at_marks": at_marks,
    }


def quoted(text: str) -> Markup:
    """A text as a string of CSS, which nothing in it can end."""
    safe = "".join(one if one.isalnum() or one in " .,;:" else f"\\{ord(one):06x}" for one in text)
    return Markup(f'"{safe}"')  # noqa: S704 - letters, digits and escapes alone


def _environment(*, paper: bool) -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

    def drawn(plot: Plot) -> Markup:
        return Markup(coloured(plot.svg, LIGHT if paper else None))  # noqa: S704 - our own SVG, whose words are escaped

    filters: dict[str, Callable[..., object]] = {
        "clock": clock,
        "begun": words.begun,
        "of_many": words.of_many,
        "quoted": quoted,
        "time_of_day": words.time_of_day,
        "day": words.day,
        "plain": words.plain,
        "span": words.span,
        "spare": words.spare,
        "lead": words.lead,
        "listed": words.listed,
        "counted": words.counted,
        "say": say,
        "drawn": drawn,
    }
    environment.filters.update(filters)
    return environment
