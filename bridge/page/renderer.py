"""Renders the pages, panels and parts from their templates.

Takes: the name of a template and its values.  Gives: HTML with every value escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.page.panel import PanelText
from bridge.page.text_filters import TEMPLATE_FILTERS, finalise_value
from bridge.page.views.registry import PANELS, PARTS, QueryWords
from bridge.runtime.device import Device

PAGE_DIR = Path(__file__).parent
TEMPLATE_DIRS = (PAGE_DIR / "templates", PAGE_DIR)
"""Frames (`base.html`) are found in the first; templates of views and widgets by their path in the second."""


class Renderer:
    """Access to the templates, which are compiled once for the whole process."""

    def __init__(self) -> None:
        """Compile nothing yet: each template is compiled at its first use."""
        self._environment = _build_environment()

    def render_page(self, template: str, *, status: int = 200, **values: object) -> HTMLResponse:
        """Render a whole page as a response."""
        return HTMLResponse(self._environment.get_template(template).render(values), status)

    def render_part(self, name: str, device: Device, query: QueryWords) -> str:
        """Render a part of a device's page, with the query of the page's address."""
        template, values = PARTS[name]
        return self.render(template, values(device, query))

    def render(self, template: str, values: Mapping[str, object]) -> str:
        """Render one template."""
        return self._environment.get_template(template).render(values)

    def panel_renderer(self, panel: str, device: Device) -> Callable[[], str]:
        """Return the function that gives the text of a panel of a device as it is now, rendered only where it changed."""
        return PanelText(PANELS[panel], self._environment.get_template(PANELS[panel].template), device)


@cache
def _build_environment() -> Environment:
    """Build the one environment of the process, so that each template is compiled once."""
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
    templates.globals["disclaimer"] = SHORT_DISCLAIMER
    return templates
