"""A panel: what it shows of a device, and its text, which is rendered only where that changed.

    device -> inputs -> values -> text
              equal?    equal?

The values are made from the inputs alone and the text from the values alone, so nothing that a panel shows can change without the
comparison finding it: no list of dependencies can miss one.  Inputs and values are therefore plain: they contain no object that may
change later, and times as the text that is shown.

Takes: a template, and two functions.  Gives: `PagePanel`, `PanelText`, and the plain values of what many panels show.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

from jinja2 import Template

from adapters.link_report import LinkState
from bridge.runtime.device import Device
from bridge.session.session import SessionState

TemplateValues = Mapping[str, object]


def _unchanged(values: object) -> TemplateValues:
    """Use inputs that are the values already."""
    return cast(TemplateValues, values)


@dataclass(frozen=True, slots=True)
class PagePanel:
    """One panel: `inputs` reads from a device what it shows, `values` makes the values of the template from that alone."""

    template: str
    inputs: Callable[[Device], object]
    values: Callable[[Any], TemplateValues] = _unchanged

    def values_of(self, device: Device) -> TemplateValues:
        """Return the values of the template as they are now."""
        return self.values(self.inputs(device))


class PanelText:
    """The text of one panel of one device, rendered again when its values change."""

    def __init__(self, panel: PagePanel, template: Template, device: Device) -> None:
        """Render nothing yet."""
        self._panel, self._template, self._device = panel, template, device
        self._inputs: object = None
        self._values: TemplateValues | None = None
        self._text = ""

    def __call__(self) -> str:
        """Return the text as it is now."""
        inputs = self._panel.inputs(self._device)
        if self._values is None or inputs != self._inputs:
            values = self._panel.values(inputs)
            if values != self._values:
                self._text = self._template.render(values)
            self._inputs, self._values = inputs, values
        return self._text


class LinkView(NamedTuple):
    """The link of a device, as panels show it."""

    name: str
    state: LinkState
    text: str
    brief_text: str


class SessionView(NamedTuple):
    """The session of a device, as panels show it."""

    name: str
    course: str
    state: SessionState
    muted: bool


def link_view(device: Device) -> LinkView:
    """Return the present state of the link."""
    report = device.link_report()
    return LinkView(report.name, report.state, report.text, report.brief_text)


def session_view(device: Device) -> SessionView:
    """Return the present session."""
    session = device.session
    return SessionView(session.name, session.course, session.state, session.muted)
