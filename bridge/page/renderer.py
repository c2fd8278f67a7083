"""Makes the pages' text from their templates.

Takes: a template's name and its values.  Gives: HTML, escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from bridge.page.text_filters import TEMPLATE_FILTERS, finalise_value
from bridge.page.views.registry import PANELS, PARTS, QueryWords
from bridge.runtime.device import Device
from bridge.terminal.live_view import SHORT_CAUTION

TEMPLATE_DIRS = Path(__file__).parent / "templates"


class Renderer:
    """The templates, loaded once."""

    def __init__(self) -> None:
        """Load nothing yet; each template is compiled at its first use and kept."""
        self._environment = _build_environment()

    def render_page(self, template: str, *, status: int = 200, **values: object) -> HTMLResponse:
        """A whole page."""
        return HTMLResponse(self._environment.get_template(template).render(values), status)

    def render_part(self, name: str, device: Device, query: QueryWords) -> str:
        """A part's text for a rig, as the words of an address ask for it."""
        return self.render(f"parts/{name}.html", PARTS[name](device, query))

    def render(self, template: str, values: Mapping[str, object]) -> str:
        """The text of one template."""
        return self._environment.get_template(template).render(values)

    def panel_renderer(self, panel: str, device: Device) -> Callable[[], str]:
        """What makes a panel's text for a rig."""
        template = self._environment.get_template(f"panels/{panel}.html")
        values = PANELS[panel]
        return lambda: template.render(values(device))


@cache
def _build_environment() -> Environment:
    """One for all pages of a program, so that each template is compiled once."""
    templates = Environment(
        loader=FileSystemLoader(TEMPLATE_DIRS),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finalise_value,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    templates.filters.update(TEMPLATE_FILTERS)
    templates.globals["caution"] = SHORT_CAUTION
    return templates
