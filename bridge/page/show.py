"""Makes the pages' text from their templates.

Takes: a template's name and its values.  Gives: HTML, escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from bridge.page.views import PANELS, PARTS, Query
from bridge.page.words import FILTERS, unbroken
from bridge.rig import Rig
from bridge.screen import SHORT_CAUTION

TEMPLATES = Path(__file__).parent / "templates"


class Show:
    """The templates, loaded once."""

    def __init__(self) -> None:
        """Load nothing yet; each template is compiled at its first use and kept."""
        self._templates = _environment()

    def page(self, template: str, *, status: int = 200, **values: object) -> HTMLResponse:
        """A whole page."""
        return HTMLResponse(self._templates.get_template(template).render(values), status)

    def part(self, name: str, rig: Rig, query: Query) -> str:
        """A part's text for a rig, as the words of an address ask for it."""
        return self.piece(f"parts/{name}.html", PARTS[name](rig, query))

    def piece(self, template: str, values: Mapping[str, object]) -> str:
        """The text of one template."""
        return self._templates.get_template(template).render(values)

    def maker(self, panel: str, rig: Rig) -> Callable[[], str]:
        """What makes a panel's text for a rig."""
        template = self._templates.get_template(f"panels/{panel}.html")
        values = PANELS[panel]
        return lambda: template.render(values(rig))


@cache
def _environment() -> Environment:
    """One for all pages of a program, so that each template is compiled once."""
    templates = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=unbroken,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    templates.filters.update(FILTERS)
    templates.globals["caution"] = SHORT_CAUTION
    return templates
